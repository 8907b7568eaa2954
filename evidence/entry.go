package evidence

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"time"
	"unicode/utf8"
)

// EntryVersion is the version of the entry format this package writes and reads.
const EntryVersion = 1

// MaxEntrySize is the largest encoded entry in bytes. Files are named in an
// entry by their Ref, never carried in it.
const MaxEntrySize = 256 << 10

// timeLayout is RFC 3339 in UTC with exactly six decimals, so that one instant
// has one text.
const timeLayout = "2006-01-02T15:04:05.000000Z"

// Entry is one thing that happened on a site, as the log keeps it.
type Entry struct {
	Version int       // EntryVersion
	Site    string    // id of the site whose log it is
	Seq     int64     // number within the site's log, from 1 without gaps
	At      time.Time // UTC, whole microseconds
	Actor   Actor
	Kind    string // what happened: words of a-z, 0-9, _ and - joined by dots, such as "snag.offered"
	Subject Subject
	// Data is what changed: a JSON object, or nil. Numbers in it are integers
	// within ±2^53: lengths in whole millimetres; decimals are text. EncodeData
	// makes it.
	Data json.RawMessage
}

// Actor is who did it, copied at that time: later changes of a name do not
// reach old entries.
type Actor struct {
	ID     string // id of the account
	Name   string // name as it was then
	Role   string // role on the site at that time
	Device string // the device it came from, "" if not known
}

// Subject is what it was done to.
type Subject struct {
	Type   string // such as "snag" or "photo"
	ID     string
	Number int // the number people call it by; 0 = it has none
}

// The structs below are the written form of an entry. Their names are part of
// the format: changing one changes the bytes of every entry.
type entryJSON struct {
	Version int             `json:"v"`
	Site    string          `json:"site"`
	Seq     int64           `json:"seq"`
	At      string          `json:"at"`
	Actor   actorJSON       `json:"actor"`
	Kind    string          `json:"kind"`
	Subject subjectJSON     `json:"subject"`
	Data    json.RawMessage `json:"data,omitempty"`
}

type actorJSON struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	Role   string `json:"role"`
	Device string `json:"device"`
}

type subjectJSON struct {
	Type   string `json:"type"`
	ID     string `json:"id"`
	Number int    `json:"number,omitempty"`
}

// Encode gives the bytes of an entry: the leaf of the site's log. At is taken
// to UTC and cut to whole microseconds, Data is made canonical; anything else
// out of range is ErrEntry, and Data that has no such form ErrJSON.
func Encode(e Entry) ([]byte, error) {
	if err := e.check(); err != nil {
		return nil, err
	}
	data, err := canonicalData(e.Data)
	if err != nil {
		return nil, err
	}
	encoded, err := Canonical(entryJSON{
		Version: e.Version,
		Site:    e.Site,
		Seq:     e.Seq,
		At:      e.At.UTC().Format(timeLayout), // Format cuts, it does not round
		Actor:   actorJSON(e.Actor),
		Kind:    e.Kind,
		Subject: subjectJSON(e.Subject),
		Data:    data,
	})
	if err != nil {
		return nil, fmt.Errorf("encode entry: %w", err)
	}
	if len(encoded) > MaxEntrySize {
		return nil, fmt.Errorf("entry has %d bytes, at most %d: %w", len(encoded), MaxEntrySize, ErrEntry)
	}
	return encoded, nil
}

// Decode reads the bytes Encode made, and nothing else: one more space, one
// unknown key or another order of keys is an error (ErrJSON or ErrEntry). So
// an entry has one encoding only.
func Decode(encoded []byte) (Entry, error) {
	if len(encoded) > MaxEntrySize {
		return Entry{}, fmt.Errorf("entry has %d bytes, at most %d: %w", len(encoded), MaxEntrySize, ErrEntry)
	}
	var in entryJSON
	if err := json.Unmarshal(encoded, &in); err != nil {
		return Entry{}, fmt.Errorf("decode entry: %w: %w", ErrEntry, err)
	}
	at, err := time.Parse(timeLayout, in.At)
	if err != nil {
		return Entry{}, fmt.Errorf("decode entry: %w: %w", ErrEntry, err)
	}
	e := Entry{
		Version: in.Version,
		Site:    in.Site,
		Seq:     in.Seq,
		At:      at,
		Actor:   Actor(in.Actor),
		Kind:    in.Kind,
		Subject: Subject(in.Subject),
		Data:    in.Data,
	}
	// encoding/json lets much pass: repeated keys, keys in capitals, unknown
	// keys, lone surrogates. None of it survives being written again.
	again, err := Encode(e)
	if err != nil {
		return Entry{}, fmt.Errorf("decode entry: %w", err)
	}
	if !bytes.Equal(again, encoded) {
		return Entry{}, fmt.Errorf("decode entry: not in the form it would be written in: %w", ErrEntry)
	}
	return e, nil
}

// EncodeData gives the Data of an entry: v as a canonical JSON object. A v that
// is nil, or a nil pointer or map, gives nil. It refuses with ErrJSON what is no object and numbers that are no
// integers within ±2^53, because a fraction read and written by another
// program may come out with other digits.
func EncodeData(v any) (json.RawMessage, error) {
	raw, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("encode data: %w: %w", ErrJSON, err)
	}
	if string(raw) == "null" {
		return nil, nil
	}
	return canonicalData(raw)
}

func canonicalData(raw json.RawMessage) (json.RawMessage, error) {
	if len(raw) == 0 {
		return nil, nil
	}
	data, err := canonicalise(raw, true)
	if err != nil {
		return nil, fmt.Errorf("data of an entry: %w", err)
	}
	if data[0] != '{' {
		return nil, fmt.Errorf("data of an entry: no JSON object: %w", ErrJSON)
	}
	return data, nil
}

// LeafHash is the hash of an encoded entry as a leaf of a Merkle tree:
// SHA-256 of a zero byte and the entry (RFC 6962 section 2.1).
func LeafHash(entry []byte) [sha256.Size]byte {
	const leafPrefix = 0x00
	return sha256.Sum256(append([]byte{leafPrefix}, entry...))
}

// check refuses an entry that would not say who did what to what, and when.
func (e Entry) check() error {
	switch year := e.At.UTC().Year(); {
	case e.Version != EntryVersion:
		return badEntry("version", fmt.Sprintf("is %d, not %d", e.Version, EntryVersion))
	case e.Seq < 1 || e.Seq > maxWhole:
		return badEntry("seq", "must be from 1 to 2^53")
	case year < 1970 || year > 9999:
		return badEntry("at", "must be a time from 1970 to 9999")
	case !validKind(e.Kind):
		return badEntry("kind", "must be words of a-z, 0-9, _ and - joined by dots")
	case e.Subject.Number < 0 || int64(e.Subject.Number) > maxWhole:
		return badEntry("subject.number", "must be from 0 to 2^53")
	}
	for _, f := range []struct {
		name, text string
		needed     bool
	}{
		{"site", e.Site, true},
		{"actor.id", e.Actor.ID, true},
		{"actor.name", e.Actor.Name, false},
		{"actor.role", e.Actor.Role, false},
		{"actor.device", e.Actor.Device, false},
		{"subject.type", e.Subject.Type, true},
		{"subject.id", e.Subject.ID, true},
	} {
		if f.needed && f.text == "" {
			return badEntry(f.name, "is empty")
		}
		if !utf8.ValidString(f.text) {
			return badEntry(f.name, "is not UTF-8")
		}
	}
	return nil
}

func badEntry(field, reason string) error {
	return fmt.Errorf("entry: %s %s: %w", field, reason, ErrEntry)
}

// validKind reports whether kind is words joined by dots, each beginning with a
// letter, at most 64 bytes in all.
func validKind(kind string) bool {
	const most = 64
	if len(kind) > most {
		return false
	}
	begin := true
	for i := range len(kind) {
		b := kind[i]
		letter := b >= 'a' && b <= 'z'
		switch {
		case begin && !letter:
			return false
		case b == '.':
			begin = true
			continue
		case !letter && (b < '0' || b > '9') && b != '_' && b != '-':
			return false
		}
		begin = false
	}
	return !begin // not empty, no dot at the end
}
