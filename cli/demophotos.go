package cli

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"golang.org/x/sync/errgroup"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/imaging"
)

// oddity is something about a photo that the checks are there for.
type oddity int

const (
	usual       oddity = iota
	noPlace            // location switched off
	lookedAway         // the compass is half a turn out
	stripped           // sent through a chat: no Exif at all
	clockFast          // the camera's clock runs an hour ahead
	weakPlace          // a poor position between scaffold and wall
	fromTheRoad        // taken a long way outside the site
)

// scene is what a photo shows and how it is filed.
type scene struct {
	layer    imaging.SceneLayer
	tone     string
	fault    imaging.FaultKind
	size     float64 // of the fault, mm
	view     float64 // width of wall in view, mm; 0 = 2400
	joint    float64 // mm
	large    bool    // about 12 megapixels
	tape     bool
	label    string
	odd      oddity
	kind     string
	stage    string
	note     string
	unplaced bool // nobody says which wall: the program proposes one
}

// shot is a photo of the demo on its way: drawn first, taken in on its day.
type shot struct {
	scene
	wall  string
	x, z  defects.MM
	by    string
	taken time.Time
	seed  uint64
	jpeg  []byte
	id    string // once taken in
}

// shoot plans a photo that is taken at a time and comes in some minutes later.
func (d *demo) shoot(s scene, wallName string, x, z defects.MM, by string, taken time.Time) *shot {
	p := &shot{scene: s, wall: wallName, x: x, z: z, by: by, taken: taken, seed: uint64(len(d.shots) + 1)}
	d.shots = append(d.shots, p)
	d.on(taken.Add(4*time.Minute), "photo", func(ctx context.Context) error { return d.takeIn(ctx, p) })
	return p
}

func (d *demo) takeIn(ctx context.Context, p *shot) error {
	w, err := d.wall(p.wall)
	if err != nil {
		return err
	}
	in := register.PhotoInput{
		FileName: fmt.Sprintf("IMG_%04d.jpg", 2000+p.seed), Stage: p.stage, Kind: p.kind, Note: p.note,
		LabelSeen: p.label != "", ScaleSeen: p.tape,
	}
	if !p.unplaced {
		in.Place = defects.Place{ElevationID: w.ID, X: &p.x, Z: &p.z}
	}
	photo, known, err := d.reg.TakePhoto(ctx, d.people[p.by], d.site, bytes.NewReader(p.jpeg), in)
	if err != nil {
		return err
	}
	if known {
		return fmt.Errorf("photo %s was drawn twice", in.FileName)
	}
	p.id, p.jpeg = photo.ID, nil
	return nil
}

// draw renders all planned photos.
func (d *demo) draw(ctx context.Context) error {
	tick := newTicker(d.progress, "demo: photos drawn", len(d.shots))
	work, ctx := errgroup.WithContext(ctx)
	work.SetLimit(2)
	drawn := make(chan struct{}, len(d.shots))
	for _, p := range d.shots {
		w, err := d.wall(p.wall)
		if err != nil {
			return err
		}
		work.Go(func() (err error) {
			if err := ctx.Err(); err != nil {
				return err
			}
			p.jpeg, err = imaging.RenderJPEG(p.spec(), p.capture(w))
			drawn <- struct{}{}
			return err
		})
		for len(drawn) > 0 {
			<-drawn
			tick.one()
		}
	}
	err := work.Wait()
	tick.end()
	return err
}

func (p *shot) spec() imaging.SceneSpec {
	s := imaging.SceneSpec{
		Width: 1024, Height: 768, Layer: p.layer, Seed: p.seed, ViewMM: p.view, JointMM: p.joint, Tone: p.tone,
		Label: p.label, Tape: p.tape,
	}
	if p.large {
		s.Width, s.Height = 4032, 3024
	}
	if p.fault != "" {
		view := p.view
		if view == 0 {
			view = 2400
		}
		s.Faults = []imaging.SceneFault{{Kind: p.fault, X: view / 2, Z: view * 3 / 8, Size: p.size}}
	}
	return s
}

// capture is what the invented phone writes: a position in front of the wall
// with some metres of noise, the direction with some degrees, and the time.
func (p *shot) capture(w wall) defects.Capture {
	rng := rand.New(rand.NewPCG(demoSeed, p.seed))
	if p.odd == stripped {
		return defects.Capture{}
	}
	at, direction := w.before(p.x, 7+4*rng.Float64())
	lat := at.Lat + rng.NormFloat64()*2/111_000
	lon := at.Lon + rng.NormFloat64()*2/67_000
	direction = math.Mod(direction+rng.NormFloat64()*6+360, 360)
	accuracy, focal, focal35, altitude := 4+rng.Float64()*6, 5.7, 26.0, 4.0
	clock := p.taken
	switch p.odd {
	case lookedAway:
		direction = math.Mod(direction+175, 360)
	case clockFast:
		clock = clock.Add(time.Hour)
	case weakPlace:
		accuracy = 85
	case fromTheRoad:
		lat += 0.009
	}
	gps := p.taken.UTC().Truncate(time.Second)
	c := defects.Capture{
		Make: "Invented", Model: "Invented phone 3", Software: "storeyrod demo", Orientation: 1,
		TakenLocal: clock.Format("2006-01-02T15:04:05"), UTCOffset: clock.Format("-07:00"), SubSec: fmt.Sprintf("%03d", rng.IntN(1000)),
		FocalMM: &focal, Focal35MM: &focal35,
	}
	if p.odd != noPlace {
		c.Lat, c.Lon, c.AltitudeM, c.HErrorM, c.GPSUTC = &lat, &lon, &altitude, &accuracy, &gps
		c.Direction, c.DirectionBy = &direction, "T"
	}
	return c
}
