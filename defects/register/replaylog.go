package register

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"

	"storeyrod/defects"
	"storeyrod/evidence"
)

// mismatch is a row that the log does not lead to, or an entry that leads to no
// row.
type mismatch struct{ table, id, text string }

// fault names the file of a record that the mismatch is in.
func (m mismatch) fault(path string) RecordFault {
	file := path + logName
	if m.table != "" {
		file = tablePath(m.table)
	}
	return RecordFault{file, "not_as_logged", m.id + ": " + m.text}
}

// replayLog folds the log of a site and holds its rows to it: snags step by step
// (defects.Replay), everything else by what its last entry says it became.
func replayLog(ctx context.Context, tx Tx, siteID string) ([]mismatch, error) {
	f := folding{states: map[subjectKey]folded{}, snags: map[string][]defects.SnagEvent{}}
	seq := int64(0)
	err := entries(ctx, tx, siteID, func(encoded []byte) error {
		e, err := evidence.Decode(encoded)
		if err != nil {
			return err
		}
		if seq++; e.Seq != seq || e.Site != siteID {
			f.wrong("", fmt.Sprintf("entry %d", e.Seq), fmt.Sprintf("stands where entry %d of this site should", seq))
		}
		return f.take(e)
	})
	if err != nil {
		return nil, err
	}
	head, err := tx.Log().Head(ctx, siteID)
	if err != nil {
		return nil, err
	}
	if head != seq {
		f.wrong("counters", siteID, fmt.Sprintf("counts %d entries; the log has %d", head, seq))
	}
	for _, compare := range []func(context.Context, Tx, string) error{f.walls, f.tools, f.members, f.photos, f.readings, f.surveys, f.weather, f.allSnags} {
		if err := compare(ctx, tx, siteID); err != nil {
			return nil, err
		}
	}
	for key := range f.states {
		f.wrong(f.table(key), key.id, "is in the log and has no row")
	}
	slices.SortFunc(f.found, func(a, b mismatch) int {
		return bytes.Compare([]byte(a.table+a.id+a.text), []byte(b.table+b.id+b.text))
	})
	return f.found, nil
}

type subjectKey struct{ typ, id string }

// folded is what the log says of a subject: hashes, so that a large log fits
// into memory.
type folded struct {
	core    evidence.Ref // of what it is
	verdict evidence.Ref // of what was judged of it, for readings and sets
	gone    string       // why a reading was withdrawn
}

// folding is the state that a log has led to.
type folding struct {
	states map[subjectKey]folded
	snags  map[string][]defects.SnagEvent
	found  []mismatch
}

func (f *folding) wrong(table, id, text string) { f.found = append(f.found, mismatch{table, id, text}) }

func (f *folding) table(key subjectKey) string {
	switch key.typ {
	case "member":
		return "memberships"
	case "weather":
		return "weather"
	}
	return key.typ + "s"
}

// hashOf is the hash of a value as the log would write it.
func hashOf(v any) (evidence.Ref, error) {
	data, err := evidence.EncodeData(v)
	return evidence.RefOf(data), err
}

// take folds one entry in.
func (f *folding) take(e evidence.Entry) error {
	key := subjectKey{e.Subject.Type, e.Subject.ID}
	switch e.Subject.Type {
	case "snag":
		event, err := readSnagEvent(e)
		if errors.Is(err, errNotAStep) {
			return nil
		}
		if err != nil {
			f.wrong("", fmt.Sprintf("entry %d", e.Seq), err.Error())
			return nil
		}
		f.snags[key.id] = append(f.snags[key.id], event)
		return nil
	case "reading":
		return f.takeReading(key, e)
	case "set":
		return f.takeSet(key, e)
	case "survey", "weather":
		return f.takeSurvey(key, e)
	case "rejudgement":
		f.takeRejudgement(key, e)
		return nil
	case "schedule", "release":
		f.states[key] = folded{core: evidence.RefOf(e.Data)}
		return nil
	}
	var data struct {
		After json.RawMessage `json:"after"`
	}
	if err := json.Unmarshal(e.Data, &data); err != nil {
		return fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	if e.Subject.Type == "member" {
		return f.takeMember(key, data.After)
	}
	if data.After == nil {
		delete(f.states, key)
		return nil
	}
	f.states[key] = folded{core: evidence.RefOf(data.After)}
	return nil
}

// takeRejudgement keeps what was decided, and what it came to once it is done.
func (f *folding) takeRejudgement(key subjectKey, e evidence.Entry) {
	state := f.states[key]
	if e.Kind == rejudgementDone {
		state.verdict = evidence.RefOf(e.Data)
	} else {
		state.core = evidence.RefOf(e.Data)
	}
	f.states[key] = state
}

func (f *folding) takeMember(key subjectKey, after json.RawMessage) error {
	var m memberData
	if err := json.Unmarshal(after, &m); err != nil {
		return fmt.Errorf("role of %s: %w", key.id, err)
	}
	core, err := hashOf(roleOf(m))
	f.states[key] = folded{core: core}
	if m.Role == "" {
		delete(f.states, key)
	}
	return err
}

func (f *folding) takeReading(key subjectKey, e evidence.Entry) (err error) {
	state := f.states[key]
	switch e.Kind {
	case "reading.add":
		var data readingData
		if err := json.Unmarshal(e.Data, &data); err != nil {
			return fmt.Errorf("entry %d: %w", e.Seq, err)
		}
		if state, err = foldReading(data); err != nil {
			return err
		}
	case "reading.withdraw":
		var data struct{ Reason string }
		if err := json.Unmarshal(e.Data, &data); err != nil {
			return fmt.Errorf("entry %d: %w", e.Seq, err)
		}
		state.gone = data.Reason
	case "reading.rejudge":
		if state.verdict, err = afterOf(e); err != nil {
			return err
		}
	}
	f.states[key] = state
	return nil
}

// takeSurvey folds in an entry on a survey or on a line of the weather log.
func (f *folding) takeSurvey(key subjectKey, e evidence.Entry) (err error) {
	state := f.states[key]
	switch e.Kind {
	case "survey.add":
		var data surveyData
		if err := json.Unmarshal(e.Data, &data); err != nil {
			return fmt.Errorf("entry %d: %w", e.Seq, err)
		}
		if state, err = foldSurvey(data); err != nil {
			return err
		}
	case surveyRejudged:
		if state.verdict, err = afterOf(e); err != nil {
			return err
		}
	case "survey.withdraw", "weather.withdraw":
		var data struct{ Reason string }
		if err := json.Unmarshal(e.Data, &data); err != nil {
			return fmt.Errorf("entry %d: %w", e.Seq, err)
		}
		state.gone = data.Reason
	default:
		state.core = evidence.RefOf(e.Data)
	}
	f.states[key] = state
	return nil
}

// foldSurvey parts what a survey is from what was judged of it.
func foldSurvey(data surveyData) (state folded, err error) {
	if state.verdict, err = hashOf(data.Judged); err != nil {
		return state, err
	}
	data.Judged = judgedData{}
	state.core, err = hashOf(data)
	return state, err
}

// foldReading parts what a reading is from what was judged of it, which may
// change.
func foldReading(data readingData) (state folded, err error) {
	if state.verdict, err = hashOf(data.Verdict); err != nil {
		return state, err
	}
	data.Verdict = verdictData{}
	state.core, err = hashOf(data)
	return state, err
}

func (f *folding) takeSet(key subjectKey, e evidence.Entry) (err error) {
	state := f.states[key]
	if e.Kind == "set.judge" {
		state.verdict, err = afterOf(e)
	} else {
		state.core = evidence.RefOf(e.Data)
	}
	f.states[key] = state
	return err
}

func afterOf(e evidence.Entry) (evidence.Ref, error) {
	var data struct {
		After json.RawMessage `json:"after"`
	}
	if err := json.Unmarshal(e.Data, &data); err != nil || data.After == nil {
		return "", fmt.Errorf("entry %d says not what it led to: %w", e.Seq, errors.Join(err, evidence.ErrEntry))
	}
	return evidence.RefOf(data.After), nil
}

// row holds one row to the log.
func (f *folding) row(typ, id string, data any) error {
	want, err := hashOf(data)
	if err != nil {
		return err
	}
	f.compare(typ, id, folded{core: want})
	return nil
}

func (f *folding) compare(typ, id string, row folded) {
	key := subjectKey{typ, id}
	logged, ok := f.states[key]
	delete(f.states, key)
	switch {
	case !ok:
		f.wrong(f.table(key), id, "is in no entry of the log")
	case logged.core != row.core:
		f.wrong(f.table(key), id, "is not what the log says it became")
	case logged.verdict != "" && logged.verdict != row.verdict:
		f.wrong(f.table(key), id, "has another verdict than the log says")
	case logged.gone != row.gone:
		f.wrong(f.table(key), id, "is withdrawn in one of row and log, or for another reason")
	}
}

// allSnags replays every snag.
func (f *folding) allSnags(ctx context.Context, tx Tx, siteID string) error {
	snags, err := tx.Snags().ListSnags(ctx, SnagFilter{SiteID: siteID}, everything())
	if err != nil {
		return err
	}
	for _, s := range snags {
		events := f.snags[s.ID]
		delete(f.snags, s.ID)
		got, err := defects.Replay(events)
		if err != nil {
			f.wrong("snags", s.Ref(), "its history cannot have been: "+err.Error())
			continue
		}
		// An elevation that changed since moves its snags in the walk.
		got.WalkRank, got.PlaceWords, got.Place, got.Version = s.WalkRank, s.PlaceWords, s.Place, s.Version
		if !reflect.DeepEqual(got, s) {
			f.wrong("snags", s.Ref(), "is not what its history leads to")
		}
	}
	for id := range f.snags {
		f.wrong("snags", id, "is in the log and has no row")
	}
	return nil
}
