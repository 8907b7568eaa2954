package defects_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// J8 of the jobs: arris out of plumb 14 mm over 2.6 m, limit 8 mm.
func TestAcceptedAsBuiltWithinAreaAndValue(t *testing.T) {
	t.Parallel()
	h := begin(t, measured).take(instructing(1))
	h.refuses(conceding(defects.PartGrant, designerA, 2), defects.Conflict, "concession_not_asked")
	h.refuses(conceding(defects.PartAsk, installerA, 2, deviation("", "14")), defects.Invalid, "deviation_missing")
	h.refuses(conceding(defects.PartAsk, installerA, 2, deviation("-14", "14")), defects.Invalid, "bad_deviation")
	h.refuses(conceding(defects.PartAsk, installerA, 2, deviation("13.9", "14")), defects.Conflict, "deviation_too_small")
	h.refuses(conceding(defects.PartAsk, installerA, 2, deviation("14", "14"), func(in *defects.StepInput) { in.Concession.Area = "" }), defects.Invalid, "area_missing")
	h.refuses(conceding(defects.PartAsk, installerA, 2, deviation("14", "14"), text("")), defects.Invalid, "reason_missing")
	h.take(conceding(defects.PartAsk, installerA, 2, deviation("14", "-14")))
	require.Equal(t, defects.Instructed, h.snag.State, "asking changes no state")
	h.refuses(conceding(defects.PartAsk, managerA, 3, deviation("14", "14")), defects.Conflict, "concession_asked")

	h.take(conceding(defects.PartGrant, designerA, 3, deviation("", "14"), func(in *defects.StepInput) { in.Concession.Conditions = "seal the arris" }))
	require.Equal(t, defects.Instructed, h.snag.State, "one grant is not enough")
	otherDesigner := designerA
	otherDesigner.ID = "des-b"
	h.refuses(conceding(defects.PartGrant, otherDesigner, 3, deviation("", "14")), defects.Conflict, "already_granted")
	sameMan := designerA
	sameMan.Role = defects.Owner
	h.refuses(conceding(defects.PartGrant, sameMan, 4, deviation("", "14")), defects.Forbidden, "own_work")
	h.refuses(conceding(defects.PartGrant, ownerA, 4, deviation("", "16")), defects.Conflict, "deviation_too_small")
	h.take(conceding(defects.PartGrant, ownerA, 4, deviation("", "14"), func(in *defects.StepInput) { in.Concession.Conditions = "for this arris" }))
	require.Equal(t, defects.Conceded, h.snag.State)
	require.Equal(t, "seal the arris; for this arris", h.snag.Concession.Conditions)
	require.Equal(t, designerA, h.snag.Concession.Technical)
	require.Equal(t, ownerA, h.snag.Concession.Value)
	require.Equal(t, "mm", h.snag.Concession.Unit)
	replayed, err := defects.Replay(h.events)
	require.NoError(t, err)
	require.Equal(t, h.snag, replayed)

	copying := func(edit ...func(*defects.StepInput)) defects.StepInput {
		return conceding(defects.PartAsk, installerA, 9, append([]func(*defects.StepInput){func(in *defects.StepInput) {
			in.Concession = defects.ConcessionInput{
				Part: defects.PartAsk, From: 112, FromTerms: h.snag.Concession, FromPlace: h.snag.Place, FromCode: h.snag.Code,
			}
		}}, edit...)...)
	}
	bay5 := begin(t, measured, func(in *defects.StepInput) { in.Raise.Place.Bay = 5; in.Reading.Place.Bay = 5 })
	bay5.refuses(copying(deviation("", "16")), defects.Conflict, "outside_concession")
	bay5.refuses(copying(deviation("", "14")), defects.Conflict, "outside_concession")
	sameBay := begin(t, measured)
	e := sameBay.refuses(copying(deviation("", "16")), defects.Conflict, "outside_concession")
	require.Contains(t, e.Text, "16 mm was measured here, it covers 14 mm")
	sameBay.refuses(copying(deviation("", "14"), func(in *defects.StepInput) { in.Concession.FromTerms = nil }), defects.Conflict, "concession_not_granted")
	sameBay.refuses(copying(deviation("", "14"), func(in *defects.StepInput) { in.Concession.FromCode = "SL-08" }), defects.Conflict, "outside_concession")
	sameBay.refuses(copying(), defects.Conflict, "outside_concession")
	sameBay.take(copying(deviation("99", "12")))
	require.Equal(t, defects.Raised, sameBay.snag.State, "a repeated concession is granted anew")
	require.Equal(t, "14", sameBay.snag.Concession.Deviation.String(), "its value is that of the first")
	require.Equal(t, "2.6 m run of the arris", sameBay.snag.Concession.Area)
}

func TestGrantsComeFromTwoPeopleWhoDidNotAskOrOffer(t *testing.T) {
	t.Parallel()
	h := begin(t).take(instructing(1)).take(offering(2)).take(conceding(defects.PartAsk, managerA, 3))
	h.refuses(conceding(defects.PartGrant, managerA, 4), defects.Forbidden, "own_work")
	offerer := installerA
	offerer.Role = defects.Designer
	h.refuses(conceding(defects.PartGrant, offerer, 4), defects.Forbidden, "own_work")
	h.refuses(conceding(defects.PartRefuse, ownerA, 4, text("")), defects.Invalid, "reason_missing")
	no := *h
	no.take(conceding(defects.PartRefuse, ownerA, 4))
	require.Nil(t, no.snag.Concession)
	no.refuses(conceding(defects.PartRefuse, ownerA, 5), defects.Conflict, "concession_not_asked")
	h.take(conceding(defects.PartGrant, managerB, 4)).take(conceding(defects.PartGrant, designerA, 5))
	require.Equal(t, defects.Conceded, h.snag.State)
}

func TestARepairIsConcededNotClosed(t *testing.T) {
	t.Parallel()
	h := begin(t).take(instructing(1)).take(offering(2, func(in *defects.StepInput) { in.MadeGood.Kind = defects.Repair }))
	h.refuses(closing(3, clerkA), defects.Conflict, "repair_needs_concession")
	h.take(conceding(defects.PartAsk, installerA, 3)).take(conceding(defects.PartGrant, designerA, 4)).
		take(conceding(defects.PartGrant, ownerA, 5))
	require.Equal(t, defects.Conceded, h.snag.State)
}

func TestACriticalConcessionNeedsTheCompetentPersonsAnswer(t *testing.T) {
	t.Parallel()
	h := begin(t, critical).take(conceding(defects.PartAsk, installerA, 1)).take(conceding(defects.PartGrant, ownerA, 2))
	h.refuses(conceding(defects.PartGrant, designerA, 3), defects.Invalid, "document_missing")
	h.take(conceding(defects.PartGrant, designerA, 3, func(in *defects.StepInput) { in.Concession.Document = "fire engineer's letter 12" }))
	require.Equal(t, defects.Conceded, h.snag.State)
}

// A mesh lap of 88 mm falls short of 100 mm: a smaller lap is the worse one.
func TestAConcessionOnAShortfallCoversNothingSmaller(t *testing.T) {
	t.Parallel()
	short := func(asked, found string) func(*defects.StepInput) {
		return func(in *defects.StepInput) { deviation(asked, found)(in); in.Facts.Short = true }
	}
	h := begin(t, measured)
	h.refuses(conceding(defects.PartAsk, installerA, 1, short("90", "88")), defects.Conflict, "deviation_too_small")
	h.take(conceding(defects.PartAsk, installerA, 1, short("85", "88")))
}

func TestConcessionsExpireAtTheEarlierDay(t *testing.T) {
	t.Parallel()
	until := func(day string) func(*defects.StepInput) {
		return func(in *defects.StepInput) { in.Concession.Expires = day }
	}
	h := begin(t)
	h.refuses(conceding(defects.PartAsk, installerA, 1, until("2026-05-01")), defects.Invalid, "date_past")
	h.take(conceding(defects.PartAsk, installerA, 1, until("2030-01-01"))).
		take(conceding(defects.PartGrant, designerA, 2, until("2028-01-01"))).
		take(conceding(defects.PartGrant, ownerA, 3, until("2029-01-01")))
	require.Equal(t, "2028-01-01", h.snag.Concession.Expires)
	late := begin(t)
	late.refuses(conceding(defects.PartAsk, installerA, 4, func(in *defects.StepInput) {
		in.Facts.Day = "2028-01-02"
		in.Concession.From, in.Concession.FromTerms = 112, h.snag.Concession
		in.Concession.FromPlace, in.Concession.FromCode = h.snag.Place, h.snag.Code
	}), defects.Conflict, "outside_concession")
}
