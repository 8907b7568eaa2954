package web

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// funcs are what the templates may call. None of them makes trusted markup:
// drawings come as template.HTML from the views, made by package report.
func funcs(assets *Assets) template.FuncMap {
	return template.FuncMap{
		"asset": assets.URL,
		"day":   Day,
		"words": Words,
		"gang":  Gang,
		"unit":  Unit,

		"capital":  capital,
		"sentence": sentence,
		"field":    inputField,
		"area":     areaField,
		"choose":   chooseField,
		"check":    checkField,
		"join":     strings.Join,
		"plural":   plural,
		"num":      num,
		"next":     func(i int) int { return i + 1 },
		"radio":    radioField,
		"arm":      func(frame, item any) armed { return armed{Frame: frame, Item: item} },
		"hex":      func(s string) string { return s[:min(len(s), 12)] },
	}
}

// armed is one item for a part of a page that needs the frame as well.
type armed struct{ Frame, Item any }

// Day prints a calendar day "2026-03-31" as "31 Mar 2026"; anything else stays.
func Day(day string) string {
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day
	}
	return t.Format("2 Jan 2006")
}

// Words prints a stable word as people read it: "joint_width_bed" becomes
// "joint width bed". Hyphens stay, they are part of the words.
func Words(word any) string { return strings.ReplaceAll(fmt.Sprint(word), "_", " ") }

// Gang names a gang in running text: "gang Rowan", whether or not its own name
// begins with the word.
func Gang(name string) string {
	if name == "" || strings.HasPrefix(strings.ToLower(name), "gang ") {
		return name
	}
	return "gang " + name
}

// Unit prints a unit, or a text with units in it, as people read it.
func Unit(text string) string { return strings.ReplaceAll(text, "1/m2", "per m²") }

// capital prints a text with a capital first.
func capital(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + text[size:]
}

// sentence prints a text as a sentence: a capital first, a full stop last.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	text = capital(text)
	if strings.ContainsAny(text[len(text)-1:], ".?!") {
		return text
	}
	return text + "."
}

// num prints a number, or a pointer to one that may be missing, with the given
// places.
func num(number any, places int) (string, error) {
	switch f := number.(type) {
	case float64:
		return strconv.FormatFloat(f, 'f', places, 64), nil
	case *float64:
		if f == nil {
			return "", nil
		}
		return strconv.FormatFloat(*f, 'f', places, 64), nil
	}
	return "", fmt.Errorf("num %v: not a number", number)
}

// plural prints a count with its noun: "1 snag", "3 snags".
func plural(n int, noun string) string {
	text := strconv.Itoa(n) + " " + noun
	if n != 1 {
		text += "s"
	}
	return text
}

// inputField is a one-line input. Each extra is "hint: text", "keys: decimal",
// "complete: username", "required" or "first".
func inputField(f *Form, name, label, kind string, extras ...string) Field {
	field := Field{ID: f.id(name), Name: name, Label: label, Kind: kind, Wrong: f.Wrong[name]}
	if kind != "password" && kind != "file" { // neither is ever sent back
		field.Value = f.Values.Get(name)
	}
	for _, extra := range extras {
		what, text, _ := strings.Cut(extra, ": ")
		switch what {
		case "hint":
			field.Hint = text
		case "keys":
			field.Keys = text
		case "complete":
			field.Complete = text
		case "required":
			field.Required = true
		case "first":
			field.First = true
		}
	}
	return field
}

func areaField(f *Form, name, label string, extras ...string) Field {
	return inputField(f, name, label, "text", extras...)
}

func chooseField(f *Form, name, label string, options []Option, extras ...string) Field {
	field := inputField(f, name, label, "", extras...)
	field.Options = make([]Option, len(options))
	for i, o := range options {
		o.Selected = o.Value == field.Value
		field.Options[i] = o
	}
	return field
}

// checkField is one box; several of one name are one field of several values.
func checkField(f *Form, name, value, label string, extras ...string) Field {
	field := inputField(f, name, label, "checkbox", extras...)
	field.ID, field.Value, field.Checked = f.id(name+"-"+value), value, f.Has(name, value)
	return field
}

// radioField is one choice of several, written "name|value|label".
func radioField(form, spec any) (Field, error) {
	f, isForm := form.(*Form)
	text, isText := spec.(string)
	parts := strings.SplitN(text, "|", 3)
	if !isForm || !isText || len(parts) != 3 {
		return Field{}, fmt.Errorf("radio %v: not a form with name|value|label", spec)
	}
	return Field{
		ID: f.id(parts[0] + "-" + parts[1]), Name: parts[0], Value: parts[1], Label: parts[2],
		Checked: f.Has(parts[0], parts[1]), Wrong: f.Wrong[parts[0]], Of: f.id(parts[0]),
	}, nil
}

func (f *Form) id(name string) string {
	if f.Prefix == "" {
		return "f-" + name
	}
	return f.Prefix + "-" + name
}
