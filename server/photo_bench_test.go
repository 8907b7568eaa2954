package server_test

import (
	"bytes"
	"context"
	"net/http"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/imaging"
	"storeyrod/models/modelstest"
)

// BenchmarkPreview measures how long after its upload a phone's photo of 12
// megapixels can be looked at, over HTTP: alone, and while an import has 200
// more of them waiting. The figures are the median and the worst of all rounds.
func BenchmarkPreview(b *testing.B) {
	for name, waiting := range map[string]int{"alone": 0, "behind-an-import": 200} {
		b.Run(name, func(b *testing.B) {
			w := newWorld(b, modelstest.Open(b))
			for i := range waiting {
				_, _, err := w.reg.TakePhoto(b.Context(), register.Actor{AccountID: w.as(defects.Manager).id, KeyID: "import"}, w.site.ID,
					bytes.NewReader(large(b, uint64(i)+1)), register.PhotoInput{})
				require.NoError(b, err)
			}
			ctx, stop := context.WithCancel(b.Context())
			var deriver sync.WaitGroup
			deriver.Go(func() { w.reg.RunDeriver(ctx) })
			defer deriver.Wait()
			defer stop()
			var took []time.Duration
			for seed := uint64(10_000); b.Loop(); seed++ {
				b.StopTimer()
				photo := large(b, seed)
				b.StartTimer()
				id := w.as(defects.Clerk).photo(photo, nil).want(http.StatusCreated).str("id")
				start := time.Now()
				for w.as(defects.Clerk).get(w.path("/photos/%s/preview", id)).Status != http.StatusOK {
					time.Sleep(5 * time.Millisecond)
				}
				took = append(took, time.Since(start))
			}
			slices.Sort(took)
			b.ReportMetric(took[len(took)/2].Seconds()*1000, "ms-median")
			b.ReportMetric(took[len(took)-1].Seconds()*1000, "ms-worst")
			page, err := w.reg.ListPhotos(b.Context(), register.System("bench"), register.PhotoFilter{SiteID: w.site.ID, Derived: "waiting"}, register.Page{Limit: 500})
			require.NoError(b, err)
			b.ReportMetric(float64(len(page.Items)), "still-waiting")
		})
	}
}

// largeBase is one drawn photo of 12 megapixels; others differ in their last
// bytes of metadata only, which is all that makes them other photos.
var largeBase = sync.OnceValues(func() ([]byte, error) {
	return imaging.RenderJPEG(imaging.SceneSpec{Width: 4000, Height: 3000, Seed: 9}, defects.Capture{Orientation: 1})
})

func large(b *testing.B, seed uint64) []byte {
	b.Helper()
	data, err := largeBase()
	require.NoError(b, err)
	comment := []byte{0xff, 0xfe, 0, 10, byte(seed >> 56), byte(seed >> 48), byte(seed >> 40), byte(seed >> 32), byte(seed >> 24), byte(seed >> 16), byte(seed >> 8), byte(seed)}
	return slices.Concat(data[:2], comment, data[2:])
}
