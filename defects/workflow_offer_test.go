package defects_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func TestRaising(t *testing.T) {
	t.Parallel()
	type edit = func(*defects.StepInput)
	place := func(p defects.Place) edit { return func(in *defects.StepInput) { in.Raise.Place = p } }
	for name, c := range map[string]struct {
		edit edit
		code string // "" = taken
	}{
		"sound":                        {func(*defects.StepInput) {}, ""},
		"no elevation":                 {place(defects.Place{Bay: 1, Lift: 1}), "place_missing"},
		"elevation alone":              {place(defects.Place{ElevationID: "north"}), ""},
		"lift without bay":             {place(defects.Place{ElevationID: "north", Lift: 2}), ""},
		"bay without lift":             {place(defects.Place{ElevationID: "north", Bay: 2}), "place_missing"},
		"x without height":             {place(defects.Place{ElevationID: "north", X: mm(100)}), "place_missing"},
		"opening":                      {place(defects.Place{ElevationID: "north", Opening: "W07"}), ""},
		"no code":                      {func(in *defects.StepInput) { in.Raise.Code = "" }, "unknown_code"},
		"as auditor":                   {func(in *defects.StepInput) { in.By = auditorA }, "role_forbidden"},
		"as owner":                     {func(in *defects.StepInput) { in.By = ownerA }, "role_forbidden"},
		"severity raised freely":       {func(in *defects.StepInput) { in.Severity = defects.Critical; in.Text = "" }, ""},
		"severity lowered with reason": {func(in *defects.StepInput) { in.Severity = defects.Minor }, ""},
		"severity lowered without":     {func(in *defects.StepInput) { in.Severity = defects.Minor; in.Text = "" }, "reason_missing"},
		"unknown severity":             {func(in *defects.StepInput) { in.Severity = "awful" }, "unknown_severity"},
		"unknown extent":               {func(in *defects.StepInput) { in.Raise.Extent = "vast" }, "unknown_extent"},
		"nothing to show":              {func(in *defects.StepInput) { in.Photos, in.Text = nil, "" }, "evidence_missing"},
		"photo of another wall":        {func(in *defects.StepInput) { in.Photos[0].ElevationID = "south" }, "photo_other_elevation"},
		"measured":                     {measured, ""},
		"measured without reading":     {func(in *defects.StepInput) { measured(in); in.Reading = nil }, "reading_missing"},
		"measured with the reason why": {func(in *defects.StepInput) {
			measured(in)
			in.Reading, in.Raise.NoReadingReason = nil, "no plumb line at hand"
		}, ""},
		"reading of another quantity":  {func(in *defects.StepInput) { measured(in); in.Reading.Quantity = "flatness" }, "reading_missing"},
		"reading that passes":          {func(in *defects.StepInput) { measured(in); in.Reading.Outcome = defects.Pass }, "reading_passes"},
		"reading conditionally passes": {func(in *defects.StepInput) { measured(in); in.Reading.Outcome = defects.ConditionalPass }, "reading_passes"},
		"reading conditionally fails":  {func(in *defects.StepInput) { measured(in); in.Reading.Outcome = defects.ConditionalFail }, ""},
		"withdrawn reading":            {func(in *defects.StepInput) { measured(in); in.Reading.Withdrawn = true }, "reading_withdrawn"},
		"reading of another wall":      {func(in *defects.StepInput) { measured(in); in.Reading.Place.ElevationID = "south" }, "reading_elsewhere"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s, err := defects.Raise(raising(c.edit))
			if c.code == "" {
				require.NoError(t, err)
				require.Equal(t, defects.Raised, s.State)
				require.Equal(t, 1, s.Version)
				require.Equal(t, defects.Single, s.Extent)
				return
			}
			var e *defects.Error
			require.ErrorAs(t, err, &e)
			require.Equal(t, c.code, e.Code, e.Error())
		})
	}
	_, err := defects.Raise(defects.StepInput{By: clerkA})
	refusedAs(t, err, defects.Invalid, "nothing_to_raise")
}

func TestOfferGuards(t *testing.T) {
	t.Parallel()
	type edit = func(*defects.StepInput)
	photo := func(change func(*defects.EvidencePhoto)) edit {
		return func(in *defects.StepInput) { change(&in.Photos[0]) }
	}
	instructed := at(10)
	for name, c := range map[string]struct {
		edit  edit
		code  string // "" = taken
		words string
	}{
		"sound":                     {func(*defects.StepInput) {}, "", ""},
		"neither rework nor repair": {func(in *defects.StepInput) { in.MadeGood.Kind = "" }, "making_good_kind", "concession"},
		"nothing said":              {func(in *defects.StepInput) { in.MadeGood.Text = " " }, "making_good_missing", ""},
		"no photo":                  {func(in *defects.StepInput) { in.Photos = nil }, "photo_missing", "the instruction"},
		"the first photo again":     {photo(func(p *defects.EvidencePhoto) { p.ID = "before" }), "photo_reused", "SN-0112"},
		"photo of another snag":     {photo(func(p *defects.EvidencePhoto) { p.UsedBy = []int{7, 31} }), "photo_reused", "SN-0007 or SN-0031"},
		"one photo twice":           {func(in *defects.StepInput) { in.Photos = append(in.Photos, in.Photos[0]) }, "photo_reused", "twice"},
		"photo of another wall":     {photo(func(p *defects.EvidencePhoto) { p.ElevationID = "south" }), "photo_other_elevation", "another elevation"},
		"photo not placed":          {photo(func(p *defects.EvidencePhoto) { p.ElevationID = "" }), "photo_other_elevation", "not placed"},
		"photo at the instruction":  {photo(func(p *defects.EvidencePhoto) { p.TakenAt = instructed }), "photo_too_old", "the instruction"},
		"photo a blink later":       {photo(func(p *defects.EvidencePhoto) { p.TakenAt = instructed.Add(time.Microsecond) }), "", ""},
		"unknown time, received before": {photo(func(p *defects.EvidencePhoto) {
			p.TakenAt, p.ReceivedAt = time.Time{}, instructed
		}), "photo_too_old", ""},
		"unknown time, received after": {photo(func(p *defects.EvidencePhoto) { p.TakenAt = time.Time{} }), "photo_time_unknown", "original file"},
		"photo before the work began": {func(in *defects.StepInput) {
			in.MadeGood.Started = in.Photos[0].TakenAt
		}, "photo_too_old", "the start of the work"},
		"photo refused":      {photo(func(p *defects.EvidencePhoto) { p.Grade = defects.GradeX }), "photo_grade", ""},
		"photo not graded":   {photo(func(p *defects.EvidencePhoto) { p.Grade = "" }), "photo_grade", ""},
		"grade B on a major": {photo(func(p *defects.EvidencePhoto) { p.Grade = defects.GradeB }), "", ""},
		"grade C on a major": {photo(func(p *defects.EvidencePhoto) { p.Grade = defects.GradeC }), "photo_grade", "B or better"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			checkOffer(t, c.edit, c.code, c.words)
		})
	}
}

func TestAnOfferIsToldAllThatItLacksAtOnce(t *testing.T) {
	t.Parallel()
	h := begin(t, measured).take(instructing(1))
	e := h.refuses(offering(2, func(in *defects.StepInput) {
		in.MadeGood.Text = ""
		in.Photos = append(in.Photos, defects.EvidencePhoto{ID: "second", ElevationID: "south", Grade: defects.GradeX, TakenAt: at(19)})
		in.Photos[0].TakenAt = time.Time{}
	}), defects.Invalid, "making_good_missing")
	require.Equal(t, "made_good.text", e.Field)
	require.Equal(t, []string{
		"making_good_missing made_good.text", "photo_grade photos[1]", "photo_other_elevation photos[1]",
		"photo_time_unknown photos[0]", "reading_missing reading",
	}, refs(e.Details))

	one := h.refuses(offering(2), defects.Invalid, "reading_missing")
	require.Empty(t, one.Details, "a single problem is the refusal itself")
	none := h.refuses(offering(2, again("7", defects.Pass), func(in *defects.StepInput) { in.Photos = nil }), defects.Invalid, "photo_missing")
	require.Empty(t, none.Details, "no photo is one problem, not a bad grade as well")
}

func TestAPhotoWithoutATimeServesAMinorSnagOnly(t *testing.T) {
	t.Parallel()
	timeless := func(in *defects.StepInput) { in.Photos[0].TakenAt, in.Photos[0].TakenSure = time.Time{}, false }
	for _, severity := range []defects.Severity{defects.Critical, defects.Major} {
		h := begin(t, func(in *defects.StepInput) { in.Raise.Severity = severity }).take(instructing(1))
		e := h.refuses(offering(2, timeless), defects.Conflict, "photo_time_unknown")
		require.Equal(t, "photos[0]", e.Field)
	}
	h := begin(t, minor).take(instructing(1)).take(offering(2, timeless))
	require.True(t, h.events[2].Input.Photos[0].ReceivedOnly(), "the history tells that the time is not proven")
}

func TestARefusalSaysHowItWasInspected(t *testing.T) {
	t.Parallel()
	h := begin(t).take(instructing(1)).take(offering(2))
	for _, how := range []string{"", "by telephone"} {
		e := h.refuses(refusing(3, clerkA, func(in *defects.StepInput) { in.Inspection = how }), defects.Invalid, "inspection_missing")
		require.Equal(t, "inspection", e.Field)
	}
	h.take(refusing(3, clerkA, func(in *defects.StepInput) { in.Inspection = defects.FromPhoto }))
	require.Equal(t, defects.Instructed, h.snag.State)
}

// checkOffer offers a measured snag with one thing changed; code "" = taken.
func checkOffer(t *testing.T, edit func(*defects.StepInput), code, words string) {
	t.Helper()
	h := begin(t, measured).take(instructing(1))
	in := offering(2, again("7", defects.Pass), edit)
	if code == "" {
		h.take(in)
		require.Equal(t, installerA, h.snag.OfferedBy)
		return
	}
	_, err := defects.Apply(h.snag, in)
	var e *defects.Error
	require.ErrorAs(t, err, &e)
	require.Equal(t, code, e.Code, e.Error())
	require.Contains(t, e.Text, words)
}

func TestOfferReadingGuards(t *testing.T) {
	t.Parallel()
	reading := func(change func(*defects.EvidenceReading)) func(*defects.StepInput) {
		return func(in *defects.StepInput) { change(in.Reading) }
	}
	for name, c := range map[string]struct {
		edit        func(*defects.StepInput)
		code, words string
	}{
		"no reading":                {func(in *defects.StepInput) { in.Reading = nil }, "reading_missing", "plumb"},
		"reading of something else": {reading(func(r *defects.EvidenceReading) { r.Quantity = "flatness" }), "reading_missing", "plumb"},
		"the first reading again":   {reading(func(r *defects.EvidenceReading) { r.ID = "first" }), "reading_too_old", ""},
		"reading before":            {reading(func(r *defects.EvidenceReading) { r.MeasuredAt = at(10) }), "reading_too_old", ""},
		"reading from tomorrow":     {reading(func(r *defects.EvidenceReading) { r.MeasuredAt = at(2000) }), "reading_in_future", ""},
		"reading withdrawn":         {reading(func(r *defects.EvidenceReading) { r.Withdrawn = true }), "reading_withdrawn", ""},
		"reading in the next bay":   {reading(func(r *defects.EvidenceReading) { r.Place.Bay = 4 }), "reading_elsewhere", "bay 3"},
		"reading on another wall":   {reading(func(r *defects.EvidenceReading) { r.Place.ElevationID = "south" }), "reading_elsewhere", ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			checkOffer(t, c.edit, c.code, c.words)
		})
	}
}

func TestMinorSnagsTakeIllustrations(t *testing.T) {
	t.Parallel()
	begin(t, minor).take(instructing(1)).take(offering(2, func(in *defects.StepInput) { in.Photos[0].Grade = defects.GradeC }))
}

func TestSamePlace(t *testing.T) {
	t.Parallel()
	xz := func(x, z int64) defects.Place {
		return defects.Place{ElevationID: "north", X: mm(x), Z: mm(z), Bay: 3, Lift: 2}
	}
	for name, c := range map[string]struct {
		snag, reading defects.Place
		same          bool
	}{
		"same bay and lift":                 {bay3lift2, bay3lift2, true},
		"other lift":                        {bay3lift2, defects.Place{ElevationID: "north", Bay: 3, Lift: 1}, false},
		"1.5 m off":                         {xz(5000, 2000), xz(5900, 3200), true},
		"more than 1.5 m off":               {xz(5000, 2000), xz(5901, 3200), false},
		"1 m off over a bay's border":       {xz(5000, 2000), defects.Place{ElevationID: "north", X: mm(6000), Z: mm(2000), Bay: 4, Lift: 2}, true},
		"x and z against bay and lift":      {xz(5000, 2000), bay3lift2, true},
		"same opening":                      {defects.Place{ElevationID: "north", Opening: "W1"}, defects.Place{ElevationID: "north", Opening: "W1"}, true},
		"other opening":                     {defects.Place{ElevationID: "north", Opening: "W1"}, defects.Place{ElevationID: "north", Opening: "W2"}, false},
		"unclear place, same wall":          {defects.Place{ElevationID: "north"}, bay3lift2, true},
		"unclear bay, other lift":           {defects.Place{ElevationID: "north", Lift: 1}, bay3lift2, false},
		"other wall":                        {bay3lift2, defects.Place{ElevationID: "south", Bay: 3, Lift: 2}, false},
		"reading says nothing of its place": {bay3lift2, defects.Place{ElevationID: "north"}, false},
	} {
		require.Equal(t, c.same, defects.SamePlace(c.snag, c.reading), name)
	}
}

func TestCloseGuards(t *testing.T) {
	t.Parallel()
	offered := func(edit ...func(*defects.StepInput)) *history {
		return begin(t, measured).take(instructing(1)).take(offering(2, append([]func(*defects.StepInput){again("7", defects.Pass)}, edit...)...))
	}
	h := offered()
	h.refuses(step(defects.StepClose, clerkA, 3, h.seen(defects.Pass)), defects.Invalid, "inspection_missing")
	h.refuses(closing(3, clerkA), defects.Conflict, "reading_does_not_pass")
	h.refuses(closing(3, clerkA, h.seen(defects.Pass), func(in *defects.StepInput) { in.Reading.ID = "another" }), defects.Conflict, "reading_does_not_pass")
	h.refuses(closing(3, clerkA, h.seen(defects.Pass), func(in *defects.StepInput) { in.Reading.Withdrawn = true }), defects.Conflict, "reading_does_not_pass")
	for _, o := range []defects.Outcome{defects.Fail, defects.ConditionalFail, defects.NoVerdict, ""} {
		e := h.refuses(closing(3, clerkA, h.seen(o), text("looks right")), defects.Conflict, "reading_does_not_pass")
		require.Contains(t, e.Text, "or a concession")
	}
	h.refuses(closing(3, clerkA, h.seen(defects.ConditionalPass)), defects.Conflict, "reading_does_not_pass")
	reasoned := *h
	reasoned.take(closing(3, clerkA, h.seen(defects.ConditionalPass), text("measured three times, always 7")))
	h.take(closing(3, clerkA, h.seen(defects.Pass), func(in *defects.StepInput) { in.Inspection = defects.FromPhoto }))
	require.Equal(t, defects.Closed, h.snag.State)

	repair := offered(func(in *defects.StepInput) { in.MadeGood.Kind = defects.Repair })
	repair.refuses(closing(3, clerkA, repair.seen(defects.Pass)), defects.Conflict, "repair_needs_concession")
}
