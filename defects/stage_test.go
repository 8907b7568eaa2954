package defects

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestStagesFollowOneAnotherAsOnAWall(t *testing.T) {
	t.Parallel()
	require.Less(t, StageOrder("IB"), StageOrder("FX"))
	require.Less(t, StageOrder("FX"), StageOrder("BM"))
	require.Less(t, StageOrder("BM"), StageOrder("SL"))
	require.Equal(t, StageOrder("OP"), StageOrder("PN"), "details before the coat go together")
	require.Zero(t, StageOrder("XX"))
	require.Len(t, StageCodes(), 22)
	require.True(t, KnownStage("BM"))
	require.True(t, KnownStage(""))
	require.False(t, KnownStage("bm"))
}

func TestAFailedReadingNamesItsDefect(t *testing.T) {
	t.Parallel()
	for in, want := range map[[2]string]string{
		{"joint_width_bed", "SL"}: "SL-07", {"joint_width_perpend", ""}: "SL-07", {"mesh_lap", "BM"}: "BM-04",
		{"plumb", "BM"}: "CR-01", {"plumb", "OP"}: "OP-05", {"plumb", "SV"}: "SV-07", {"flatness", "BM"}: "BM-10",
		{"flatness", "SP"}: "SP-03", {"flatness", "IB"}: "IB-08", {"pull_out_load", "SV"}: "SV-03",
		{"bond_strength", "SL"}: "SL-05", {"bond_strength", "SV"}: "SV-05", {"air_temperature", "SL"}: "SL-14",
		{"air_temperature", "BM"}: "BM-08", {"crack_width", "PT"}: "PT-05", {"position", "SL"}: "", {"mood", ""}: "",
		{"fixing_density", "CM"}: "CM-01", {"bed_joint_level", "CM"}: "CM-02", {"crack_width", "SV"}: "SV-06",
	} {
		require.Equal(t, want, KindForFailure(in[0], in[1]), "%v", in)
	}
	require.Equal(t, "FX-01", KindForReading(Reading{Quantity: "fixing_density", Stage: "FX", Place: Place{Zone: Field}}))
	require.Equal(t, "FX-02", KindForReading(Reading{Quantity: "fixing_density", Stage: "FX", Place: Place{Zone: Edge}}))
}
