package server

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"unicode/utf8"

	"storeyrod/defects"
)

const badEncoding, keyTwice = "the body is not UTF-8", "the body names twice in one object: "

// checkJSON refuses what a JSON reader would mend or drop without a word: bytes
// that are not UTF-8 and a member named twice (RFC 8259 §4 leaves open which
// one counts). Other faults are left to the reader.
func checkJSON(data []byte) error {
	if !utf8.Valid(data) {
		return jsonRefusal(badEncoding)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	return oneOfEach(dec)
}

// oneOfEach reads one value.
func oneOfEach(dec *json.Decoder) error {
	token, err := dec.Token()
	if err != nil {
		return nil // the reader proper says what is wrong
	}
	open, _ := token.(json.Delim)
	if open != '{' && open != '[' {
		return nil
	}
	seen := map[string]bool{}
	for dec.More() {
		if open == '{' {
			name, err := dec.Token()
			if err != nil {
				return nil
			}
			key := fmt.Sprint(name)
			if seen[key] {
				return jsonRefusal(keyTwice + key)
			}
			seen[key] = true
		}
		if err := oneOfEach(dec); err != nil {
			return err
		}
	}
	_, _ = dec.Token()
	return nil
}

// jsonRefusal is the refusal of that text, nil for any other.
func jsonRefusal(text string) *defects.Error {
	if text == badEncoding {
		return defects.Refuse(defects.Invalid, "bad_encoding", text)
	}
	if strings.HasPrefix(text, keyTwice) {
		return &defects.Error{Kind: defects.Invalid, Code: "named_twice", Text: text}
	}
	return nil
}
