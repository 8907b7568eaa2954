package register_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func (b *snagBed) withdraw(rd defects.Reading) error {
	b.t.Helper()
	now, err := b.Reading(b.ctx(), b.clerk, b.people.site.ID, rd.ID)
	require.NoError(b.t, err)
	_, err = b.WithdrawReading(b.ctx(), b.clerk, b.people.site.ID, rd.ID, now.Version, "wrong wall")
	return err
}

func TestASnagTellsThatItsReadingWasWithdrawn(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		b := newSnagBedOn(t, f)
		rd := b.plumb("12", 3, 2)
		s := b.raise(b.clerk, register.RaiseInput{ReadingID: rd.ID, Gang: "A"})
		before := b.load(s.Number)
		require.NoError(t, b.withdraw(rd))
		after := b.load(s.Number)
		require.Equal(t, before.State, after.State)
		require.Equal(t, before.ReadingText+" (reading withdrawn: wrong wall)", after.ReadingText)
		v, err := b.Snag(b.ctx(), b.clerk, b.people.site.ID, s.Number)
		require.NoError(t, err)
		last := v.History[len(v.History)-1]
		require.Equal(t, defects.NoteReadingWithdrawn, last.Input.Step)
		require.Equal(t, "wrong wall", last.Input.Text)
		b.replayed(s.Number)
	})
}

func TestAnOfferWhoseReadingWasWithdrawnCannotBeClosed(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	s := b.instruct(b.raise(b.clerk, register.RaiseInput{ReadingID: b.plumb("12", 3, 2).ID, Gang: "A"}))
	again := b.plumb("4", 3, 2)
	in := offer(b.photo())
	in.ReadingID = again.ID
	s = b.step(b.installer, s, in)
	require.NoError(t, b.withdraw(again))
	require.NotContains(t, b.load(s.Number).ReadingText, "withdrawn", "the reading it was raised from stands")
	_, err := b.try(b.clerk, s, onSite("plumb"))
	refused(t, err, defects.Conflict, "reading_does_not_pass")
	b.replayed(s.Number)
}

func TestTheReadingASnagWasClosedOnStays(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	s := b.instruct(b.raise(b.clerk, register.RaiseInput{ReadingID: b.plumb("12", 3, 2).ID, Gang: "A"}))
	again := b.plumb("4", 3, 2)
	in := offer(b.photo())
	in.ReadingID = again.ID
	s = b.step(b.clerk, b.step(b.installer, s, in), onSite("plumb"))
	require.Equal(t, defects.Closed, s.State)
	e := refused(t, b.withdraw(again), defects.Conflict, "reading_in_use")
	require.Contains(t, e.Error(), s.Ref())
	stored, err := b.Reading(b.ctx(), b.clerk, b.people.site.ID, again.ID)
	require.NoError(t, err)
	require.Empty(t, stored.Withdrawn)
}

// Roles change: a reading entered for a colleague who has since become the
// clerk would look like the clerk's own.
func TestAnOfferRestsOnNoReadingEnteredInTheNameOfItsJudge(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	site := b.people.site.ID
	s := b.instruct(b.raise(b.clerk, register.RaiseInput{ReadingID: b.plumb("12", 3, 2).ID, Gang: "A"}))
	login := "other-operative.mill-leat-house"
	res, err := b.AddReading(b.ctx(), b.installer, site, register.ReadingInput{
		Quantity: "plumb", Value: "4", Unit: "mm", Expanded: "2", BaseLength: "2.6", Stage: "BM", ElevationID: b.north.ID,
		Bay: 3, Lift: 2, ByLogin: login,
	})
	require.NoError(t, err)
	require.NoError(t, b.SetRole(b.ctx(), b.manager, site, login, defects.Clerk, ""))
	in := offer(b.photo())
	in.ReadingID = res.Reading.ID
	_, err = b.try(b.installer, s, in)
	refused(t, err, defects.Conflict, "reading_by_other")
	in.ReadingID = b.plumb("4", 3, 2).ID
	b.step(b.installer, s, in)
}
