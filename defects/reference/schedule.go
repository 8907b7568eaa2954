package reference

import (
	"bytes"
	"cmp"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"sync"

	"storeyrod/defects"
)

// MaxScheduleBytes bounds a schedule file.
const MaxScheduleBytes = 1 << 20

//go:embed data
var data embed.FS

var schedules = sync.OnceValue(func() []defects.Schedule {
	names, err := fs.Glob(data, "data/schedules/*.json")
	if err != nil {
		panic(fmt.Sprintf("reference: list schedules: %v", err))
	}
	list := make([]defects.Schedule, 0, len(names))
	for _, name := range names {
		text, err := data.ReadFile(name)
		if err != nil {
			panic(fmt.Sprintf("reference: read %s: %v", name, err))
		}
		s, err := ParseSchedule(bytes.NewReader(text))
		if err != nil {
			panic(fmt.Sprintf("reference: parse %s: %v", name, err))
		}
		list = append(list, s)
	}
	slices.SortFunc(list, func(a, b defects.Schedule) int {
		return cmp.Or(strings.Compare(a.Name, b.Name), a.Version-b.Version)
	})
	return list
})

// Schedules are the built-in tolerance schedules in the order of their names.
// The slice is the caller's; the limits behind it must not be changed.
func Schedules() []defects.Schedule { return slices.Clone(schedules()) }

// Schedule finds a built-in schedule by "name" (its newest version) or
// "name@version".
func Schedule(ref string) (defects.Schedule, bool) {
	name, version, pinned := strings.Cut(ref, "@")
	var best defects.Schedule
	found := false
	for _, s := range schedules() {
		if s.Name != name || (pinned && strconv.Itoa(s.Version) != version) {
			continue
		}
		if !found || s.Version > best.Version {
			best, found = s, true
		}
	}
	return best, found
}

// ParseSchedule reads one schedule in the form of EncodeSchedule and checks it
// as defects.Compile does. Unknown fields, a second document, more than
// MaxScheduleBytes and figures that are no plain decimals are refused with code
// bad_schedule; figures may be JSON strings or numbers, and a number is taken
// digit by digit, never through a float.
func ParseSchedule(r io.Reader) (defects.Schedule, error) {
	text, err := io.ReadAll(io.LimitReader(r, MaxScheduleBytes+1))
	if err != nil {
		return defects.Schedule{}, fmt.Errorf("read schedule: %w", err)
	}
	if len(text) > MaxScheduleBytes {
		return defects.Schedule{}, defects.RefuseField(defects.TooLarge, "", "schedule_too_large", "a schedule file holds at most 1 MiB")
	}
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	var file scheduleFile
	if err := dec.Decode(&file); err != nil {
		return defects.Schedule{}, badFile(err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return defects.Schedule{}, badFile(errors.New("more than one document"))
	}
	s := file.schedule()
	if _, err := defects.Compile(s); err != nil {
		return defects.Schedule{}, err
	}
	return s, nil
}

// EncodeSchedule writes a schedule as indented JSON that ParseSchedule reads
// back to the same value.
func EncodeSchedule(s defects.Schedule) ([]byte, error) {
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(fileOf(s)); err != nil {
		return nil, fmt.Errorf("encode schedule %s: %w", s.Name, err)
	}
	return out.Bytes(), nil
}

func badFile(err error) error {
	refused := defects.RefuseField(defects.Invalid, "", "bad_schedule", "not a schedule file: "+strings.TrimPrefix(err.Error(), "json: "))
	refused.Err = err
	return refused
}
