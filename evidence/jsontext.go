package evidence

import (
	"errors"
	"math"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"
)

// maxWhole is 2^53: beyond it a double cannot tell all integers apart.
const maxWhole = 1 << 53

// number reads a number of RFC 8259's grammar and writes it canonically.
func (c *canoniser) number() error {
	start := c.pos
	if c.peek() == '-' {
		c.pos++
	}
	if c.peek() == '0' {
		c.pos++
	} else if !c.digits() {
		return c.fault("digit missing")
	}
	integer := true
	if c.peek() == '.' {
		integer = false
		c.pos++
		if !c.digits() {
			return c.fault("digit missing")
		}
	}
	if b := c.peek(); b == 'e' || b == 'E' {
		integer = false
		c.pos++
		if b := c.peek(); b == '+' || b == '-' {
			c.pos++
		}
		if !c.digits() {
			return c.fault("digit missing")
		}
	}
	text := string(c.in[start:c.pos])
	if c.whole {
		n, err := strconv.ParseInt(text, 10, 64)
		if !integer || err != nil || n > maxWhole || n < -maxWhole {
			return c.fault("number " + short(text) + " is no integer within 2^53; write decimals as text; it ends")
		}
	}
	f, err := strconv.ParseFloat(text, 64)
	if errors.Is(err, strconv.ErrRange) && math.IsInf(f, 0) {
		return c.fault("number too large, ending")
	}
	c.out = appendNumber(c.out, f)
	return nil
}

// digits moves over digits and reports whether there was one.
func (c *canoniser) digits() bool {
	start := c.pos
	for b := c.peek(); b >= '0' && b <= '9'; b = c.peek() {
		c.pos++
	}
	return c.pos > start
}

// text reads a string and gives its characters.
func (c *canoniser) text() (string, error) {
	c.pos++ // opening quote
	var out []byte
	for {
		start := c.pos
		for c.pos < len(c.in) && c.in[c.pos] != '"' && c.in[c.pos] != '\\' && c.in[c.pos] >= ' ' {
			c.pos++
		}
		if !utf8.Valid(c.in[start:c.pos]) {
			return "", c.fault("text that is not UTF-8 ends")
		}
		out = append(out, c.in[start:c.pos]...)
		switch c.peek() {
		case '"':
			c.pos++
			return string(out), nil
		case '\\':
			r, err := c.escape()
			if err != nil {
				return "", err
			}
			out = utf8.AppendRune(out, r)
		default:
			return "", c.fault("control character or end inside a text")
		}
	}
}

// escape reads one escape, or two that form a surrogate pair.
func (c *canoniser) escape() (rune, error) {
	c.pos++ // backslash
	b := c.peek()
	c.pos++
	switch b {
	case '"', '\\', '/':
		return rune(b), nil
	case 'b':
		return '\b', nil
	case 'f':
		return '\f', nil
	case 'n':
		return '\n', nil
	case 'r':
		return '\r', nil
	case 't':
		return '\t', nil
	case 'u':
		return c.unicode()
	default:
		c.pos--
		return 0, c.fault("unknown escape")
	}
}

func (c *canoniser) unicode() (rune, error) {
	r, err := c.hex4()
	if err != nil || !utf16.IsSurrogate(r) {
		return r, err
	}
	if c.pos+1 < len(c.in) && c.in[c.pos] == '\\' && c.in[c.pos+1] == 'u' {
		c.pos += 2
		low, err := c.hex4()
		if err != nil {
			return 0, err
		}
		if pair := utf16.DecodeRune(r, low); pair != utf8.RuneError {
			return pair, nil
		}
	}
	return 0, c.fault("lone surrogate ends")
}

func (c *canoniser) hex4() (rune, error) {
	const width = 4
	var r rune
	for range width {
		b := c.peek()
		switch {
		case b >= '0' && b <= '9':
			r = r<<4 | rune(b-'0')
		case b >= 'a' && b <= 'f':
			r = r<<4 | rune(b-'a'+10)
		case b >= 'A' && b <= 'F':
			r = r<<4 | rune(b-'A'+10)
		default:
			return 0, c.fault("hexadecimal digit missing")
		}
		c.pos++
	}
	return r, nil
}

// appendText writes a string with the escapes of RFC 8785 section 3.2.2.2 and
// no others.
func appendText(out []byte, text string) []byte {
	const hex = "0123456789abcdef"
	out = append(out, '"')
	for i := range len(text) {
		switch b := text[i]; {
		case b == '"' || b == '\\':
			out = append(out, '\\', b)
		case b == '\b':
			out = append(out, `\b`...)
		case b == '\t':
			out = append(out, `\t`...)
		case b == '\n':
			out = append(out, `\n`...)
		case b == '\f':
			out = append(out, `\f`...)
		case b == '\r':
			out = append(out, `\r`...)
		case b < ' ':
			out = append(out, `\u00`...)
			out = append(out, hex[b>>4], hex[b&0xf])
		default:
			out = append(out, b)
		}
	}
	return append(out, '"')
}
