package web

import (
	"net/url"
	"slices"
)

// Form is one form of a page: what was typed into it and what was wrong. The
// zero value is an empty form.
type Form struct {
	Prefix string     // put before the ids of its fields, so that they are unique on a page
	Values url.Values // as typed, or as preset
	Wrong  map[string]string
	Taken  []string // files it brought that are kept already, by name and time
}

// NewForm makes a form whose fields' ids begin with prefix.
func NewForm(prefix string) *Form {
	return &Form{Prefix: prefix, Values: url.Values{}, Wrong: map[string]string{}}
}

// Set presets a field unless something was typed into it.
func (f *Form) Set(name, value string) *Form {
	if !f.Values.Has(name) && value != "" {
		f.Values.Set(name, value)
	}
	return f
}

// Refuse says what is wrong with a field.
func (f *Form) Refuse(name, text string) {
	if f.Wrong == nil {
		f.Wrong = map[string]string{}
	}
	f.Wrong[name] = text
}

// Has reports whether a field holds a value; checkboxes may hold several.
func (f *Form) Has(name, value string) bool { return slices.Contains(f.Values[name], value) }

// Field is one input with its label, as the templates of part_form.html draw it.
type Field struct {
	ID       string
	Name     string
	Label    string
	Value    string
	Wrong    string
	Kind     string // type of the input
	Hint     string
	Required bool
	Complete string // autocomplete
	Keys     string // inputmode: the keyboard a phone shows
	Options  []Option
	Checked  bool
	First    bool   // takes the focus when the page opens
	Of       string // id of the choices that this one is of
}

// Option is one choice of a select; those of one Group stand together.
type Option struct {
	Value    string
	Text     string
	Group    string
	Needs    string // names of the fields this choice asks for, with spaces between
	Selected bool
}

// Grouped is a run of options under one heading; Group may be empty.
type Grouped struct {
	Group   string
	Options []Option
}

// Groups gives the options in runs of the same group.
func (f Field) Groups() []Grouped {
	var out []Grouped
	for _, o := range f.Options {
		if n := len(out); n > 0 && out[n-1].Group == o.Group {
			out[n-1].Options = append(out[n-1].Options, o)
			continue
		}
		out = append(out, Grouped{Group: o.Group, Options: []Option{o}})
	}
	return out
}
