package imaging_test

import (
	"bytes"
	"image"
	"image/color"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

func TestTheSameSceneGivesTheSameBytes(t *testing.T) {
	t.Parallel()
	for _, layer := range []imaging.SceneLayer{imaging.SceneSlips, imaging.SceneBoards, imaging.SceneCoat, imaging.SceneRender} {
		spec := imaging.SceneSpec{Width: 320, Height: 240, Layer: layer, Seed: 11, Label: "A-3", Tape: true}
		first, err := imaging.RenderJPEG(spec, fullCapture())
		require.NoError(t, err)
		again, err := imaging.RenderJPEG(spec, fullCapture())
		require.NoError(t, err)
		require.Equal(t, first, again)
		spec.Seed = 12
		other, err := imaging.RenderJPEG(spec, fullCapture())
		require.NoError(t, err)
		require.NotEqual(t, first, other)
	}
}

func TestADrawnPhotoShowsUprightWhateverItsOrientation(t *testing.T) {
	t.Parallel()
	spec := imaging.SceneSpec{Width: 400, Height: 300, Seed: 3, Label: "B-7", Tape: true}
	want := imaging.Render(spec)
	for orientation := 1; orientation <= 8; orientation++ {
		b, err := imaging.RenderJPEG(spec, defects.Capture{Orientation: orientation})
		require.NoError(t, err)
		c, notes, err := imaging.ReadCapture(bytes.NewReader(b), imaging.DefaultLimits())
		require.NoError(t, err)
		require.Empty(t, notes)
		w, h := c.Upright()
		require.Equal(t, image.Pt(400, 300), image.Pt(w, h))
		got, err := imaging.Derive(t.Context(), bytes.NewReader(b), c, imaging.DeriveOptions{PreviewQuality: 95})
		require.NoError(t, err)
		require.Greater(t, psnr(want, decoded(t, got.Preview)), 30.0, "orientation %d", orientation)
	}
}

// joints measures, along a row of pixels, the runs that are mortar: bright,
// while slips are dark. Lengths in mm.
func joints(img image.Image, row int, scale float64) []float64 {
	var runs []float64
	run := 0
	for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x++ {
		if color.GrayModel.Convert(img.At(x, row)).(color.Gray).Y > 145 {
			run++
			continue
		}
		if run > 0 {
			runs = append(runs, float64(run)/scale)
		}
		run = 0
	}
	return runs
}

func TestJointsAreDrawnAsWideAsAskedFor(t *testing.T) {
	t.Parallel()
	const view, width = 1200.0, 2400
	scale := width / view
	for _, joint := range []float64{8, 10, 14} {
		img := imaging.Render(imaging.SceneSpec{Width: width, Height: 1800, ViewMM: view, JointMM: joint, Seed: 4})
		row := img.Bounds().Max.Y - int(scale*(joint/2+65/2)) // middle of the lowest course
		runs := joints(img, row, scale)
		require.GreaterOrEqual(t, len(runs), 4)
		for _, mm := range runs {
			require.InDelta(t, joint, mm, 2.5)
		}
	}
}

func TestFaultsShowInTheDrawing(t *testing.T) {
	t.Parallel()
	for layer, kinds := range map[imaging.SceneLayer][]imaging.FaultKind{
		imaging.SceneSlips: {
			imaging.FaultOffLevel, imaging.FaultWideGap, imaging.FaultChip, imaging.FaultLipping,
			imaging.FaultCrack, imaging.FaultStain,
		},
		imaging.SceneBoards: {imaging.FaultWideGap, imaging.FaultNoAnchor, imaging.FaultCrack},
		imaging.SceneCoat:   {imaging.FaultBareMesh, imaging.FaultCrack},
		imaging.SceneRender: {imaging.FaultStain, imaging.FaultCrack},
	} {
		sound := imaging.SceneSpec{Width: 600, Height: 450, Layer: layer, Seed: 9}
		want := imaging.Render(sound).(*image.YCbCr)
		for _, kind := range kinds {
			faulty := sound
			faulty.Faults = []imaging.SceneFault{{Kind: kind, X: 1000, Z: 800, Size: 60}}
			got := imaging.Render(faulty).(*image.YCbCr)
			changed := 0
			for i := range want.Y {
				if want.Y[i] != got.Y[i] {
					changed++
				}
			}
			require.Greater(t, changed, 10, "%s on %s", kind, layer)
		}
	}
}

func TestOddSizesAndPlacesOutsideAreDrawnWithoutHarm(t *testing.T) {
	t.Parallel()
	for _, size := range []image.Point{{1, 1}, {7, 3}, {3, 99}, {101, 55}, {0, 0}, {-5, 10}} {
		for _, layer := range []imaging.SceneLayer{imaging.SceneSlips, imaging.SceneBoards, imaging.SceneCoat, imaging.SceneRender} {
			img := imaging.Render(imaging.SceneSpec{
				Width: size.X, Height: size.Y, Layer: layer, Tape: true, Label: "a label much longer than its board",
				Faults: []imaging.SceneFault{
					{Kind: imaging.FaultCrack, X: -50, Z: 9e5, Size: 500},
					{Kind: imaging.FaultStain, X: 1e6, Z: -1e6, Size: 500},
					{Kind: imaging.FaultBareMesh, X: -10, Z: -10, Size: 50},
				},
			})
			require.False(t, img.Bounds().Empty())
		}
	}
}
