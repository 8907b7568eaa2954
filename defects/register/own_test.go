package register_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// ownBed is gang A's work in the register: a photo, a failed reading in a set,
// a snag, and an answer to a hold point that speaks of it.
type ownBed struct {
	*snagBed
	photo   defects.Photo
	bytes   []byte
	reading defects.Reading
	set     defects.Set
	snag    defects.Snag
	hold    register.ReleaseInput
}

func newOwnBed(t *testing.T) *ownBed {
	t.Helper()
	b := &ownBed{snagBed: newSnagBed(t)}
	site := b.people.site.ID
	b.bytes = picture(t, 1, noPlace())
	b.photo = b.take(b.installer, b.bytes, register.PhotoInput{Note: "gang A's note", Place: defects.Place{ElevationID: "North"}})
	var err error
	b.set, err = b.CreateSet(b.ctx(), b.clerk, site, register.NewSet{Quantity: "mesh_lap", Name: "laps", Place: defects.Place{ElevationID: b.north.ID}})
	require.NoError(t, err)
	res, err := b.AddReading(b.ctx(), b.installer, site, register.ReadingInput{
		Quantity: "mesh_lap", Value: "80", Unit: "mm", Expanded: "2", SetID: b.set.ID, Stage: "BM", Gang: "A",
		ElevationID: b.north.ID, Bay: 1, Lift: 1, Photos: []string{b.photo.ID},
	})
	require.NoError(t, err)
	b.reading = res.Reading
	b.snag = b.raise(b.clerk, b.seen(1, 1))
	b.hold = register.ReleaseInput{HoldPoint: "H6", ElevationID: b.north.ID, Outcome: defects.ReleaseRefused, Text: "laps of gang A"}
	_, err = b.ReleaseHold(b.ctx(), b.clerk, site, b.hold)
	require.NoError(t, err)
	return b
}

// Every list and getter, asked by an operative of gang B and one of gang A:
// how much of gang A's work each of them sees.
func TestAnOperativeSeesNothingOfAnotherGang(t *testing.T) {
	t.Parallel()
	b := newOwnBed(t)
	site := b.people.site.ID
	asked := map[string]func(who register.Actor) (int, error){
		"photo": func(who register.Actor) (int, error) {
			p, err := b.Photo(b.ctx(), who, site, b.photo.ID)
			return len(p.ID), err
		},
		"reading": func(who register.Actor) (int, error) {
			rd, err := b.Reading(b.ctx(), who, site, b.reading.ID)
			return len(rd.ID), err
		},
		"readings": func(who register.Actor) (int, error) {
			page, err := b.ListReadings(b.ctx(), who, register.ReadingFilter{SiteID: site}, register.Page{})
			return len(page.Items), err
		},
		"readings of the set": func(who register.Actor) (int, error) {
			page, err := b.ListReadings(b.ctx(), who, register.ReadingFilter{SiteID: site, SetID: b.set.ID}, register.Page{})
			return len(page.Items), err
		},
		"set": func(who register.Actor) (int, error) {
			_, readings, err := b.Set(b.ctx(), who, site, b.set.ID)
			return len(readings), err
		},
		"sets": func(who register.Actor) (int, error) {
			sets, err := b.Sets(b.ctx(), who, site)
			return len(sets), err
		},
		"snag": func(who register.Actor) (int, error) {
			v, err := b.Snag(b.ctx(), who, site, b.snag.Number)
			return v.Snag.Number, err
		},
		"snags": func(who register.Actor) (int, error) {
			page, err := b.ListSnags(b.ctx(), who, register.SnagFilter{SiteID: site}, register.Page{})
			return len(page.Items), err
		},
		"snag list": func(who register.Actor) (int, error) {
			list, err := b.SnagList(b.ctx(), who, site, b.north.ID, register.ListFilter{})
			return len(list.Items) + list.Counts[defects.Raised], err
		},
		"items": func(who register.Actor) (int, error) {
			page, err := b.ListItems(b.ctx(), who, site, "", register.ListFilter{}, register.Page{})
			return len(page.Items), err
		},
		"follow-ups": func(who register.Actor) (int, error) {
			list, err := b.FollowUps(b.ctx(), who, site, "")
			return len(list), err
		},
		"reasons of readiness": func(who register.Actor) (int, error) {
			in := b.hold
			in.Outcome = defects.Released
			ready, err := b.ReadinessOf(b.ctx(), who, site, in)
			require.False(t, ready.Ready, "that it is not ready is no secret")
			n := 0
			for _, reason := range ready.Reasons {
				if reason.Code != "others_work" && reason.Field != "" {
					n++
				}
			}
			return n, err
		},
		"gangs": func(who register.Actor) (int, error) {
			gangs, err := b.Gangs(b.ctx(), who, site)
			return count(gangs, "A"), err
		},
		"gangs of people": func(who register.Actor) (int, error) {
			list, err := b.Members(b.ctx(), who, site)
			var gangs []string
			for _, m := range list {
				gangs = append(gangs, m.Gang)
			}
			return count(gangs, "A"), err
		},
	}
	for name, ask := range asked {
		n, err := ask(b.operative)
		require.NoError(t, err, name)
		require.Positive(t, n, "%s: his own gang's", name)
		if n, err = ask(b.otherOperative); err != nil {
			require.ErrorIs(t, err, defects.NotFound, name)
		}
		require.Zero(t, n, name)
	}
	list, err := b.Releases(b.ctx(), b.otherOperative, site)
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Empty(t, list[0].Text)
	_, _, err = b.SearchLog(b.ctx(), b.operative, register.LogFilter{SiteID: site}, 0)
	refused(t, err, defects.Forbidden, "role_forbidden")
}

func count(list []string, want string) (n int) {
	for _, s := range list {
		if s == want {
			n++
		}
	}
	return n
}

func TestAnOperativeUsesNothingOfAnotherGang(t *testing.T) {
	t.Parallel()
	b := newOwnBed(t)
	site := b.people.site.ID
	_, err := b.RaiseSnag(b.ctx(), b.otherOperative, site, register.RaiseInput{ReadingID: b.reading.ID, Text: "x"})
	refused(t, err, defects.NotFound, "reading_not_found")
	in := b.seen(2, 1)
	in.Photos = []string{b.photo.ID}
	_, err = b.RaiseSnag(b.ctx(), b.otherOperative, site, in)
	refused(t, err, defects.NotFound, "photo_not_found")
	rd := register.ReadingInput{Quantity: "mesh_lap", Value: "110", Unit: "mm", Photos: []string{b.photo.ID}}
	_, err = b.AddReading(b.ctx(), b.otherOperative, site, rd)
	refused(t, err, defects.Invalid, "photo_not_found")
	_, err = b.AddReading(b.ctx(), b.otherOperative, site, register.ReadingInput{Quantity: "mesh_lap", Value: "110", Unit: "mm", SetID: b.set.ID})
	refused(t, err, defects.Invalid, "set_not_found")

	// His own gang's may be used: the photo belongs to its reading.
	_, err = b.AddReading(b.ctx(), b.operative, site, rd)
	require.NoError(t, err)
	_, err = b.RaiseSnag(b.ctx(), b.operative, site, register.RaiseInput{ReadingID: b.reading.ID, Text: "x"})
	require.NoError(t, err)
}

func TestTheSameBytesTellAnOperativeNothingOfWhoSentThemFirst(t *testing.T) {
	t.Parallel()
	b := newOwnBed(t)
	send := func(who register.Actor) defects.Photo {
		p, known, err := b.TakePhoto(b.ctx(), who, b.people.site.ID, bytes.NewReader(b.bytes), register.PhotoInput{})
		require.NoError(t, err)
		require.True(t, known)
		return p
	}
	require.Equal(t, "gang A's note", send(b.clerk).Note)
	require.Equal(t, "gang A's note", send(b.operative).Note, "it belongs to his gang's reading")
	p := b.photo
	require.Equal(t, defects.Photo{ID: p.ID, SiteID: p.SiteID, SHA256: p.SHA256, Size: p.Size, Version: p.Version}, send(b.otherOperative))
}
