package reference_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

func TestTheDefectCatalogueIsWhole(t *testing.T) {
	t.Parallel()
	kinds := reference.Catalogue()
	require.Len(t, kinds, 125)
	seen := make(map[string]bool)
	for _, k := range kinds {
		require.Regexp(t, `^[A-Z]{2}-\d{2}$`, k.Code)
		require.False(t, seen[k.Code], k.Code)
		seen[k.Code] = true
		require.Positive(t, defects.StageOrder(k.Stage), k.Code)
		require.True(t, k.Severity.Known(), k.Code)
		require.Contains(t, []defects.AfterCover{defects.Correctable, defects.OpeningUp, defects.NotCorrectable}, k.AfterCover)
		require.Contains(t, []string{"", "fire", "gas", "electric", "structure"}, k.NeedsCompetent, k.Code)
		for _, q := range k.Quantities {
			_, ok := defects.QuantityByName(q)
			require.True(t, ok, "%s %s", k.Code, q)
		}
		for _, text := range []string{k.Group, k.Name, k.Seen, k.Cause, k.Consequence, k.MakingGood, k.Evidence, k.Basis} {
			require.NotEmpty(t, text, k.Code)
		}
	}
	fire, ok := reference.DefectKind("FB-01")
	require.True(t, ok)
	require.Equal(t, defects.Critical, fire.Severity)
	require.Equal(t, "fire", fire.NeedsCompetent)
	_, ok = reference.DefectKind("FB-99")
	require.False(t, ok)
}

func TestADefectProposedFromAReadingIsJudgedByItsQuantity(t *testing.T) {
	t.Parallel()
	for _, q := range defects.Quantities() {
		for _, stage := range append(defects.StageCodes(), "") {
			code := defects.KindForFailure(q.Name, stage)
			if code == "" {
				continue
			}
			k, ok := reference.DefectKind(code)
			require.True(t, ok, code)
			require.Contains(t, k.Quantities, q.Name, "%s at %s gives %s", q.Name, stage, code)
		}
	}
}

func TestEveryLimitOfCommonPracticeLeadsToADefect(t *testing.T) {
	t.Parallel()
	s, _ := reference.Schedule("ewi-common-practice")
	without := []string{"cut_board_width", "mix_water", "mix_time", "stand_time", "seal_setback"} // none in the catalogue
	for _, l := range s.Limits {
		code := defects.KindForFailure(l.Quantity, l.Stage)
		require.Equal(t, slices.Contains(without, l.Quantity), code == "", l.Quantity)
	}
}

func TestStagesAndTheirOrderAgree(t *testing.T) {
	t.Parallel()
	stages := reference.Stages()
	require.Len(t, stages, len(defects.StageCodes()))
	points := make(map[string]defects.HoldPoint)
	for _, p := range reference.HoldPoints() {
		points[p.Code] = p
	}
	require.Len(t, points, 12)
	for i, s := range stages {
		require.Equal(t, defects.StageCodes()[i], s.Code)
		require.Equal(t, defects.StageOrder(s.Code), s.Order, s.Code)
		if s.HoldPoint != "" {
			require.Contains(t, points[s.HoldPoint].Stages, s.Code)
		}
	}
	for _, p := range points {
		for _, code := range slices.Concat(p.Stages, p.Before) {
			require.Positive(t, defects.StageOrder(code), p.Code)
		}
		require.NotEmpty(t, p.Before, p.Code)
		require.NotEmpty(t, p.ReleasedBy, p.Code)
	}
	bm, ok := reference.Stage("BM")
	require.True(t, ok)
	require.Equal(t, "H7", bm.HoldPoint)
	_, ok = reference.Stage("ZZ")
	require.False(t, ok)
}

func TestCautionsOfAStageStandBeforeTheGeneralOnes(t *testing.T) {
	t.Parallel()
	list := reference.CautionsFor("PN")
	topics := make([]string, len(list))
	for i, c := range list {
		topics[i] = c.Topic
		require.NotEmpty(t, c.Text)
		require.NotEmpty(t, c.Mark)
	}
	require.Contains(t, topics, "Gas, flues and vents")
	require.Contains(t, topics, "Electricity")
	require.Contains(t, topics, "Height")
	require.NotContains(t, topics, "Hot work and stored boards")
	require.Less(t, slices.Index(topics, "Electricity"), slices.Index(topics, "Height"))
	require.Len(t, reference.Cautions(), 17)
	for _, c := range reference.Cautions() {
		for _, stage := range c.Stages {
			require.Positive(t, defects.StageOrder(stage), c.Topic)
		}
	}
}

func TestRequiredReadingsAndPhotosNameKnownStagesAndQuantities(t *testing.T) {
	t.Parallel()
	readings := reference.RequiredReadings()
	require.Len(t, readings, 41)
	for _, r := range readings {
		require.Positive(t, defects.StageOrder(r.Stage), r.Name)
		for _, q := range r.Quantities {
			_, ok := defects.QuantityByName(q)
			require.True(t, ok, q)
		}
		require.NotEmpty(t, r.HowMany)
	}
	photos := reference.RequiredPhotos()
	require.Len(t, photos, 23)
	for _, p := range photos {
		require.Positive(t, defects.StageOrder(p.Stage), p.Show)
		require.NotEmpty(t, p.Show)
	}
}

func TestListsAreTheCallersOwn(t *testing.T) {
	t.Parallel()
	reference.Catalogue()[0].Code = "changed"
	reference.Stages()[0].Code = "changed"
	reference.Schedules()[0].Name = "changed"
	reference.Cautions()[0].Topic = "changed"
	require.NotEqual(t, "changed", reference.Catalogue()[0].Code)
	require.NotEqual(t, "changed", reference.Stages()[0].Code)
	require.NotEqual(t, "changed", reference.Schedules()[0].Name)
	require.NotEqual(t, "changed", reference.Cautions()[0].Topic)
}
