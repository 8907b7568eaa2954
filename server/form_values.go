package server

import (
	"net/http"
	"strconv"
	"strings"
	"unicode"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/web"
)

// readForm reads a plain form of bounded size. The ids of its fields begin with
// prefix.
func readForm(c *gin.Context, prefix string) (*web.Form, error) {
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, maxFormBytes)
	if err := c.Request.ParseForm(); err != nil {
		return nil, badForm(err)
	}
	f := web.NewForm(prefix)
	f.Values = c.Request.PostForm
	return f, nil
}

// queryForm is a form that travels in the address: a filter, or what a link
// presets.
func queryForm(c *gin.Context, prefix string) *web.Form {
	f := web.NewForm(prefix)
	f.Values = c.Request.URL.Query()
	return f
}

func badForm(err error) error {
	e := defects.Refuse(defects.Invalid, "bad_form", "the form could not be read; load the page again")
	if strings.Contains(err.Error(), "too large") {
		e = defects.Refuse(defects.TooLarge, "body_too_large", "the form is larger than is taken")
	}
	e.Err = err
	return e
}

// typedWhole reads a whole number that may be left out.
func typedWhole(f *web.Form, name string) (int, error) {
	text := strings.TrimSpace(f.Values.Get(name))
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		return 0, defects.RefuseField(defects.Invalid, name, "bad_number", "must be a whole number")
	}
	return n, nil
}

// typedWholes reads several whole numbers into their places.
func typedWholes(f *web.Form, into map[string]*int) error {
	for name, to := range into {
		n, err := typedWhole(f, name)
		if err != nil {
			return err
		}
		*to = n
	}
	return nil
}

// typedDecimal reads a number that may be left out. A decimal comma is not guessed
// at; the register's own words say how to write it.
func typedDecimal(f *web.Form, name string) (*defects.Decimal, error) {
	text := strings.TrimSpace(f.Values.Get(name))
	if text == "" {
		return nil, nil
	}
	d, err := defects.ParseDecimal(text)
	if err != nil {
		return nil, atField(err, name)
	}
	return &d, nil
}

// typedDecimals reads several decimals with spaces or semicolons between them.
func typedDecimals(f *web.Form, name string) ([]defects.Decimal, error) {
	var out []defects.Decimal
	for text := range strings.FieldsFuncSeq(f.Values.Get(name), func(r rune) bool { return r == ';' || unicode.IsSpace(r) }) {
		d, err := defects.ParseDecimal(text)
		if err != nil {
			return nil, atField(err, name)
		}
		out = append(out, d)
	}
	return out, nil
}

// typedMetres reads a length in metres that may be left out.
func typedMetres(f *web.Form, name string) (*defects.MM, error) {
	d, err := typedDecimal(f, name)
	if d == nil || err != nil {
		return nil, err
	}
	mm, err := defects.MMFromMetres(*d)
	if err != nil {
		return nil, atField(err, name)
	}
	return &mm, nil
}

// atField names the input at fault on a refusal that does not know it.
func atField(err error, field string) error {
	e, ok := asRefusal(err)
	if !ok || e.Field != "" {
		return err
	}
	named := *e
	named.Field = field
	return &named
}

// typed is a field without the spaces around it.
func typed(f *web.Form, name string) string { return strings.TrimSpace(f.Values.Get(name)) }

// seenVersion is the version of what the person saw.
func seenVersion(f *web.Form) int {
	n, err := strconv.Atoi(f.Values.Get("version"))
	if err != nil {
		return 0
	}
	return n
}

// typedLines are the lines of a field that are not empty.
func typedLines(f *web.Form, name string) []string {
	var lines []string
	for line := range strings.SplitSeq(f.Values.Get(name), "\n") {
		if line = strings.TrimSpace(line); line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}
