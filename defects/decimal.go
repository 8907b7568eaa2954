package defects

import (
	"math"
	"strconv"
	"strings"
)

const (
	nanosPerUnit = 1_000_000_000
	maxPlaces    = 9
	maxWhole     = 9_000_000_000
)

// Decimal is an exact decimal number with at most nine places, as somebody
// wrote it down: 9.50 compares equal to 9.5 and still prints as 9.50.
// The zero value is 0. Its range is ±9 000 000 000; no measured value of the
// trade comes near either bound.
type Decimal struct {
	nano   int64
	places uint8
}

// ParseDecimal reads a plain decimal such as "-12.50". It refuses exponents,
// digit groups, a decimal comma, not-a-number and more than nine places, each
// with code bad_number: a number is never guessed.
func ParseDecimal(s string) (Decimal, error) {
	text := strings.TrimSpace(s)
	sign := int64(1)
	body := text
	if rest, ok := strings.CutPrefix(body, "-"); ok {
		sign, body = -1, rest
	} else if rest, ok := strings.CutPrefix(body, "+"); ok {
		body = rest
	}
	whole, frac, dotted := strings.Cut(body, ".")
	if !digits(whole) || (dotted && !digits(frac)) {
		return Decimal{}, badNumber(text, "write it as a plain decimal, such as 12.5")
	}
	if len(frac) > maxPlaces {
		return Decimal{}, badNumber(text, "at most nine decimal places")
	}
	w, err := strconv.ParseInt(whole, 10, 64)
	if err != nil || w > maxWhole {
		return Decimal{}, badNumber(text, "out of range")
	}
	f, _ := strconv.ParseInt(frac+strings.Repeat("0", maxPlaces-len(frac)), 10, 64)
	return Decimal{nano: sign * (w*nanosPerUnit + f), places: uint8(len(frac))}, nil
}

// MustDecimal is ParseDecimal for constants in code; it panics on bad text.
func MustDecimal(s string) Decimal {
	d, err := ParseDecimal(s)
	if err != nil {
		panic("defects: " + s + ": " + err.Error())
	}
	return d
}

// DecimalOf makes a whole number.
func DecimalOf(n int64) Decimal { return Decimal{nano: n * nanosPerUnit} }

// DecimalFromFloat rounds half away from zero to the given places (0 to 9). It
// serves computed values only, never typed ones; the bool is false for NaN,
// infinities and values out of range.
func DecimalFromFloat(f float64, places int) (Decimal, bool) {
	if math.IsNaN(f) || math.Abs(f) > maxWhole || places < 0 || places > maxPlaces {
		return Decimal{}, false
	}
	scale := math.Pow10(places)
	n := int64(math.Round(f * scale))
	return Decimal{nano: n * pow10(maxPlaces-places), places: uint8(places)}, true
}

// DecimalFromNano rebuilds a value from its billionths and its places.
func DecimalFromNano(nano int64, places int) Decimal {
	return Decimal{nano: nano, places: uint8(min(max(places, 0), maxPlaces))}
}

// Nano is the value in billionths of its unit.
func (d Decimal) Nano() int64 { return d.nano }

// Places is the number of decimal places it was written with.
func (d Decimal) Places() int { return int(d.places) }

// Float is the nearest float64, for formulas that end in a probability.
func (d Decimal) Float() float64 { return float64(d.nano) / nanosPerUnit }

// Cmp compares by value alone: -1, 0 or +1.
func (d Decimal) Cmp(o Decimal) int {
	switch {
	case d.nano < o.nano:
		return -1
	case d.nano > o.nano:
		return 1
	}
	return 0
}

// Less reports d < o by value.
func (d Decimal) Less(o Decimal) bool { return d.nano < o.nano }

// Sign is -1, 0 or +1.
func (d Decimal) Sign() int { return d.Cmp(Decimal{}) }

// Add is exact and keeps the larger number of places. A sum beyond what can be
// held stays at the bound of about ±9.2 thousand million, so that comparing it
// still answers right.
func (d Decimal) Add(o Decimal) Decimal {
	return Decimal{nano: addSat(d.nano, o.nano), places: max(d.places, o.places)}
}

// Sub is exact and keeps the larger number of places; it stops at the same
// bound as Add.
func (d Decimal) Sub(o Decimal) Decimal { return d.Add(o.Neg()) }

// Mul multiplies and rounds half away from zero at the ninth place; it stops at
// the same bound as Add.
func (d Decimal) Mul(o Decimal) Decimal {
	n := mulDivRound(absNano(d.nano), absNano(o.nano), nanosPerUnit)
	if (d.nano < 0) != (o.nano < 0) {
		n = -n
	}
	return Decimal{nano: n, places: min(d.places+o.places, maxPlaces)}
}

// Round rounds half away from zero to the given places (0 to 9) and is then
// written with exactly those. It is for printing; comparisons use the value.
func (d Decimal) Round(places int) Decimal {
	places = min(max(places, 0), maxPlaces)
	unit := pow10(maxPlaces - places)
	n := addSat(absNano(d.nano), unit/2) / unit * unit
	if d.nano < 0 {
		n = -n
	}
	return Decimal{nano: n, places: uint8(places)}
}

// Significant is d for printing: cut to the given significant digits when it was
// written with more places than those need.
func (d Decimal) Significant(digits int) Decimal {
	places := digits
	for n := absNano(d.nano); n >= nanosPerUnit && places > 0; n /= 10 {
		places--
	}
	for n := absNano(d.nano); n > 0 && n < nanosPerUnit/10 && places < maxPlaces; n *= 10 {
		places++
	}
	if places >= int(d.places) {
		return d
	}
	return d.Round(places)
}

// Neg is -d.
func (d Decimal) Neg() Decimal { return Decimal{nano: -d.nano, places: d.places} }

// Abs is the value without its sign.
func (d Decimal) Abs() Decimal {
	if d.nano < 0 {
		return d.Neg()
	}
	return d
}

// DecimalTexts are values as they are written.
func DecimalTexts(list []Decimal) []string {
	var out []string
	for _, d := range list {
		out = append(out, d.String())
	}
	return out
}

// String prints it as it was written: sign, whole part, and its places.
func (d Decimal) String() string {
	n := d.nano
	out := make([]byte, 0, 24)
	if n < 0 {
		out = append(out, '-')
		n = -n
	}
	out = strconv.AppendInt(out, n/nanosPerUnit, 10)
	frac := strconv.FormatInt(nanosPerUnit+n%nanosPerUnit, 10)[1:]
	keep := max(int(d.places), len(strings.TrimRight(frac, "0")))
	if keep > 0 {
		out = append(out, '.')
		out = append(out, frac[:keep]...)
	}
	return string(out)
}

func digits(s string) bool {
	for _, c := range []byte(s) {
		if c < '0' || c > '9' {
			return false
		}
	}
	return s != ""
}

func absNano(n int64) int64 {
	if n < 0 {
		return -n
	}
	return n
}

// addSat adds and stays at the bound instead of wrapping around.
func addSat(a, b int64) int64 {
	sum := a + b
	switch {
	case a > 0 && b > 0 && sum < 0:
		return math.MaxInt64
	case a < 0 && b < 0 && (sum >= 0 || sum == math.MinInt64):
		return -math.MaxInt64
	}
	return sum
}

// mulDiv is a·b / c as quotient and remainder over 128 bits, for a, b ≥ 0 and
// c > 0. A quotient too large to hold comes back as the bound.
func mulDiv(a, b, c int64) (quotient, remainder int64) {
	if a == 0 || b <= math.MaxInt64/a {
		return a * b / c, a * b % c
	}
	hi, lo := mulWide(uint64(a), uint64(b))
	if hi >= uint64(c) {
		return math.MaxInt64, 0
	}
	// Schoolbook division, one binary digit at a time: the remainder stays
	// below c, which is below 2^63, so that doubling it cannot overflow.
	var q uint64
	for i := 63; i >= 0; i-- {
		hi = hi<<1 | lo>>i&1
		q <<= 1
		if hi >= uint64(c) {
			hi -= uint64(c)
			q |= 1
		}
	}
	if q > math.MaxInt64 {
		return math.MaxInt64, 0
	}
	return int64(q), int64(hi)
}

// mulWide is the 128-bit product as high and low half.
func mulWide(a, b uint64) (hi, lo uint64) {
	const half, mask = 32, 1<<32 - 1
	low := (a & mask) * (b & mask)
	mid := (a>>half)*(b&mask) + low>>half
	cross := mid&mask + (a&mask)*(b>>half)
	return (a>>half)*(b>>half) + mid>>half + cross>>half, a * b
}

func mulDivFloor(a, b, c int64) int64 {
	q, _ := mulDiv(a, b, c)
	return q
}

func mulDivCeil(a, b, c int64) int64 {
	q, r := mulDiv(a, b, c)
	if r > 0 {
		return q + 1
	}
	return q
}

func mulDivRound(a, b, c int64) int64 {
	q, r := mulDiv(a, b, c)
	if r >= c-r && q < math.MaxInt64 {
		return q + 1
	}
	return q
}

func pow10(n int) int64 {
	p := int64(1)
	for range n {
		p *= 10
	}
	return p
}

func badNumber(text, why string) error {
	return RefuseField(Invalid, "", "bad_number", strconv.Quote(clip(text, 40))+" is not a number that can be taken: "+why)
}

// clip shortens hostile text before it is repeated in a message.
func clip(s string, n int) string {
	if len(s) <= n {
		return s
	}
	return strings.ToValidUTF8(s[:n], "") + "…"
}
