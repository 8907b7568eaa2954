package register_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// snagBed is a reading bed on which snags are raised and taken through their
// steps. Its schedule asks plumb within 8 mm and laps of 100 mm.
type snagBed struct {
	*readingBed
	shots int
}

func newSnagBed(t *testing.T) *snagBed {
	t.Helper()
	return newSnagBedOn(t, newFixture(t))
}

func newSnagBedOn(t *testing.T, f *fixture) *snagBed {
	t.Helper()
	b := &snagBed{readingBed: &readingBed{fixture: f, people: f.site("Mill Leat House")}}
	b.walls = f.walls(b.people, "Mill Leat House")
	for _, e := range b.walls {
		if e.Name == "North" {
			b.north = e
		}
	}
	b.inForce(append(jobLimits("0.50"), defects.Limit{
		Quantity: "plumb", Kind: defects.FixedLimit, Lower: dec("-8"), Upper: dec("8"), Clause: "invented clause 4",
	})...)
	return b
}

// photo stores a photo as if it had been taken now, of the north wall and of
// grade A, unless edited.
func (b *snagBed) photo(edit ...func(*defects.Photo)) string {
	b.t.Helper()
	b.shots++
	now := b.Now()
	p := defects.Photo{
		ID: b.NewID(), SiteID: b.people.site.ID, SHA256: fmt.Sprintf("%064x", b.shots), Size: 1000, FileName: "wall.jpg",
		Capture: defects.Capture{Type: "jpeg", Width: 320, Height: 240, Orientation: 1, TakenUTC: &now}, ReceivedAt: now,
		AddedBy: b.installer.AccountID, AddedName: b.installer.Name, Place: defects.Place{ElevationID: b.north.ID},
		PlacedBy: defects.PlacedPerson, Grade: defects.GradeA, Derived: "ready", Version: 1,
	}
	for _, e := range edit {
		e(&p)
	}
	require.NoError(b.t, b.Store.Write(b.ctx(), func(tx register.Tx) error { return tx.Photos().InsertPhoto(b.ctx(), p) }))
	return p.ID
}

func graded(g defects.Grade) func(*defects.Photo) { return func(p *defects.Photo) { p.Grade = g } }

// plumb measures plumb over 2.6 m in a bay and lift of the north wall.
func (b *snagBed) plumb(value string, bay, lift int) defects.Reading {
	b.t.Helper()
	res, err := b.AddReading(b.ctx(), b.installer, b.people.site.ID, register.ReadingInput{
		Quantity: "plumb", Value: value, Unit: "mm", Expanded: "2", BaseLength: "2.6", MeasuredAt: b.Now().Format(time.RFC3339),
		Stage: "BM", ElevationID: b.north.ID, Bay: bay, Lift: lift,
	})
	require.NoError(b.t, err)
	return res.Reading
}

// seen is a raise of a major snag that is seen, not measured.
func (b *snagBed) seen(bay, lift int) register.RaiseInput {
	return register.RaiseInput{ElevationID: b.north.ID, Bay: bay, Lift: lift, Code: "BM-05", Text: "no diagonal patch", Gang: "A"}
}

func (b *snagBed) raise(who register.Actor, in register.RaiseInput) defects.Snag {
	b.t.Helper()
	s, err := b.RaiseSnag(b.ctx(), who, b.people.site.ID, in)
	require.NoError(b.t, err)
	b.clock.add(time.Minute)
	return s
}

// try takes a step on the version that is stored now.
func (b *snagBed) try(who register.Actor, s defects.Snag, in register.StepRequest) (defects.Snag, error) {
	b.t.Helper()
	return b.StepSnag(b.ctx(), who, b.people.site.ID, s.Number, b.load(s.Number).Version, in)
}

func (b *snagBed) step(who register.Actor, s defects.Snag, in register.StepRequest) defects.Snag {
	b.t.Helper()
	next, err := b.try(who, s, in)
	require.NoError(b.t, err)
	require.Equal(b.t, b.load(s.Number), next, "the answer is what was stored")
	b.clock.add(time.Minute)
	return next
}

func (b *snagBed) load(number int) (s defects.Snag) {
	b.t.Helper()
	require.NoError(b.t, b.Store.Read(b.ctx(), func(tx register.Tx) (err error) {
		s, err = tx.Snags().Snag(b.ctx(), b.people.site.ID, number)
		return err
	}))
	return s
}

func (b *snagBed) instruct(s defects.Snag) defects.Snag {
	b.t.Helper()
	return b.step(b.clerk, s, register.StepRequest{Step: defects.StepInstruct, Text: "cut in and coat"})
}

func offer(photos ...string) register.StepRequest {
	return register.StepRequest{
		Step: defects.StepOffer, Photos: photos, MadeGood: defects.MakingGood{Kind: defects.Rework, Text: "patch cut in", Product: "mesh 160"},
	}
}

func onSite(text string) register.StepRequest {
	return register.StepRequest{Step: defects.StepClose, Inspection: defects.OnSite, Text: text}
}

// refusal is a clerk's refusal of an offer after a look on site.
func refusal(text string) register.StepRequest {
	return register.StepRequest{Step: defects.StepRefuse, Inspection: defects.OnSite, Text: text}
}

func because(s defects.Step, text string) register.StepRequest {
	return register.StepRequest{Step: s, Text: text}
}

func ask(area, deviation string) register.StepRequest {
	in := because(defects.StepConcede, "cannot be cured without taking the layer off")
	in.Concession = defects.ConcessionInput{Part: defects.PartAsk, Area: area}
	if deviation != "" {
		in.Concession.Deviation = dec(deviation)
	}
	return in
}

func grant() register.StepRequest {
	return register.StepRequest{Step: defects.StepConcede, Concession: defects.ConcessionInput{Part: defects.PartGrant}}
}

// replayed holds that the log alone gives the stored snag again.
func (b *snagBed) replayed(number int) {
	b.t.Helper()
	v, err := b.Snag(b.ctx(), b.clerk, b.people.site.ID, number)
	require.NoError(b.t, err)
	got, err := defects.Replay(v.History)
	require.NoError(b.t, err)
	require.Equal(b.t, b.load(number), got)
	for i, e := range v.History {
		if i > 0 {
			require.Equal(b.t, v.History[i-1].After, e.Before)
		}
	}
}
