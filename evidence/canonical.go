package evidence

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Limits of what is made canonical. They keep hostile input from taking memory
// or stack out of proportion.
const (
	MaxJSONDepth = 64       // arrays and objects inside each other
	MaxJSONSize  = 16 << 20 // bytes of text
)

// Canonical encodes v with encoding/json and brings the result into the form
// of RFC 8785. Numbers are IEEE 754 doubles there: an int64 beyond ±2^53 loses
// digits, as it would in any program that reads it. EncodeData refuses those.
// encoding/json replaces bytes that are not UTF-8 before they get here.
func Canonical(v any) ([]byte, error) {
	raw, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("encode: %w: %w", ErrJSON, err)
	}
	return CanonicalJSON(raw)
}

// CanonicalJSON brings a JSON text into the form of RFC 8785 (JSON
// Canonicalization Scheme): no white space, keys in the order of their UTF-16
// code units, numbers as ECMAScript writes them, text as it is, without
// Unicode normalisation. It refuses with ErrJSON what has no such form:
// malformed JSON, repeated keys, lone surrogates, bytes that are not UTF-8,
// numbers too large for a double; and what is over the limits above.
func CanonicalJSON(raw []byte) ([]byte, error) {
	return canonicalise(raw, false)
}

// canonicalise is CanonicalJSON, with a rule more if whole is set: each number
// must be written as an integer within ±2^53.
func canonicalise(raw []byte, whole bool) ([]byte, error) {
	if len(raw) > MaxJSONSize {
		return nil, fmt.Errorf("%d bytes, at most %d: %w", len(raw), MaxJSONSize, ErrJSON)
	}
	c := canoniser{in: raw, out: make([]byte, 0, len(raw)), whole: whole}
	c.space()
	if err := c.value(0); err != nil {
		return nil, err
	}
	c.space()
	if c.pos < len(c.in) {
		return nil, c.fault("more text after the value")
	}
	return c.out, nil
}

// canoniser reads one JSON text and writes its canonical form in the same pass.
type canoniser struct {
	in    []byte
	pos   int
	out   []byte
	whole bool
}

func (c *canoniser) fault(reason string) error {
	return fmt.Errorf("%s at byte %d: %w", reason, c.pos, ErrJSON)
}

// peek is the next byte, or 0 at the end; no JSON token starts with 0.
func (c *canoniser) peek() byte {
	if c.pos < len(c.in) {
		return c.in[c.pos]
	}
	return 0
}

func (c *canoniser) space() {
	for c.pos < len(c.in) {
		switch c.in[c.pos] {
		case ' ', '\t', '\n', '\r':
			c.pos++
		default:
			return
		}
	}
}

func (c *canoniser) value(depth int) error {
	if depth > MaxJSONDepth {
		return c.fault("nested too deep")
	}
	switch b := c.peek(); {
	case b == '{':
		return c.object(depth)
	case b == '[':
		return c.array(depth)
	case b == '"':
		text, err := c.text()
		if err != nil {
			return err
		}
		c.out = appendText(c.out, text)
		return nil
	case b == '-' || b >= '0' && b <= '9':
		return c.number()
	default:
		return c.literal()
	}
}

func (c *canoniser) literal() error {
	for _, word := range [...]string{"null", "true", "false"} {
		if strings.HasPrefix(string(c.in[c.pos:min(len(c.in), c.pos+len(word))]), word) {
			c.pos += len(word)
			c.out = append(c.out, word...)
			return nil
		}
	}
	return c.fault("no JSON value")
}

func (c *canoniser) array(depth int) error {
	c.pos++
	c.out = append(c.out, '[')
	c.space()
	if c.peek() == ']' {
		c.pos++
		c.out = append(c.out, ']')
		return nil
	}
	for {
		c.space()
		if err := c.value(depth + 1); err != nil {
			return err
		}
		c.space()
		switch c.peek() {
		case ',':
			c.pos++
			c.out = append(c.out, ',')
		case ']':
			c.pos++
			c.out = append(c.out, ']')
			return nil
		default:
			return c.fault("comma or end of array missing")
		}
	}
}

// member is one key of an object with the canonical text of its value.
type member struct {
	key   string
	value []byte
}

func (c *canoniser) object(depth int) error {
	c.pos++
	c.space()
	if c.peek() == '}' {
		c.pos++
		c.out = append(c.out, "{}"...)
		return nil
	}
	var members []member
	for more := true; more; {
		m, err := c.member(depth)
		if err != nil {
			return err
		}
		members = append(members, m)
		switch c.peek() {
		case ',':
			c.pos++
		case '}':
			c.pos++
			more = false
		default:
			return c.fault("comma or end of object missing")
		}
	}
	slices.SortFunc(members, func(a, b member) int { return compareUTF16(a.key, b.key) })
	// The values lie in buffers of their own, so they can be written in key order.
	c.out = append(c.out, '{')
	for i, m := range members {
		if i > 0 {
			if m.key == members[i-1].key {
				return c.fault("key " + strconv.Quote(short(m.key)) + " repeated in the object ending")
			}
			c.out = append(c.out, ',')
		}
		c.out = appendText(c.out, m.key)
		c.out = append(c.out, ':')
		c.out = append(c.out, m.value...)
	}
	c.out = append(c.out, '}')
	return nil
}

func (c *canoniser) member(depth int) (member, error) {
	c.space()
	if c.peek() != '"' {
		return member{}, c.fault("key missing")
	}
	key, err := c.text()
	if err != nil {
		return member{}, err
	}
	c.space()
	if c.peek() != ':' {
		return member{}, c.fault("colon missing")
	}
	c.pos++
	c.space()
	start := len(c.out)
	if err := c.value(depth + 1); err != nil {
		return member{}, err
	}
	value := slices.Clone(c.out[start:])
	c.out = c.out[:start]
	c.space()
	return member{key: key, value: value}, nil
}

// compareUTF16 orders two valid UTF-8 texts by their UTF-16 code units
// (RFC 8785 section 3.2.3), in which the surrogates of characters beyond
// U+FFFF sort before U+E000 to U+FFFF.
func compareUTF16(a, b string) int {
	for a != "" && b != "" {
		ra, na := utf8.DecodeRuneInString(a)
		rb, nb := utf8.DecodeRuneInString(b)
		if ra != rb {
			if c := cmp.Compare(firstUnit(ra), firstUnit(rb)); c != 0 {
				return c
			}
			return cmp.Compare(ra, rb) // same high surrogate: the low one decides
		}
		a, b = a[na:], b[nb:]
	}
	return cmp.Compare(len(a), len(b))
}

func firstUnit(r rune) rune {
	const plane, high = 0x10000, 0xD800
	if r >= plane {
		return high + (r-plane)>>10
	}
	return r
}

// appendNumber writes a double as ECMAScript does (RFC 8785 section 3.2.2.3):
// the fewest digits that read back as the same double, plain from 1e-6 up to
// below 1e21, with an exponent outside.
func appendNumber(out []byte, f float64) []byte {
	if f == 0 {
		return append(out, '0') // minus zero too
	}
	if size := math.Abs(f); size >= 1e-6 && size < 1e21 {
		return strconv.AppendFloat(out, f, 'f', -1, 64)
	}
	text := strconv.FormatFloat(f, 'e', -1, 64)
	digits, exponent, _ := strings.Cut(text, "e")
	out = append(out, digits...)
	out = append(out, 'e', exponent[0])
	return append(out, strings.TrimLeft(exponent[1:], "0")...)
}
