package cli

import (
	"context"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// The grid of the demo's survey: how many points, how far apart, from where.
const (
	surveyDay     = 2
	surveyColumns = 17
	surveyRows    = 11
	surveyStep    = defects.MM(500)
	surveyFrom    = defects.MM(500)
)

// survey plans the line and level survey of a wall that bulges at mid-height.
func (d *demo) survey() {
	d.on(d.calendar.at(surveyDay, 15), "survey of "+hareWest, func(ctx context.Context) error {
		w, err := d.wall(hareWest)
		if err != nil {
			return err
		}
		step := surveyStep.Metres().String()
		_, err = d.reg.AddSurvey(ctx, d.people["clerk"], d.site, register.SurveyInput{
			ElevationID: w.ID, Stage: "SV", DX: step, DZ: step, X: surveyFrom.Metres().String(), Z: "0.3", Straightedge: "4",
			Offsets: bulgingWall(), InstrumentID: toolLevel, Note: "string line 100 mm in front of the wall, levelled at both ends",
		})
		return err
	})
}

// bulgingWall is the invented grid: a bulge of 31 mm, a slight lean, a rough
// surface, and one point under a bracket that could not be taken.
func bulgingWall() string {
	rng := rand.New(rand.NewPCG(demoSeed, surveyDay))
	lines := make([]string, surveyRows)
	for i := range lines {
		z := defects.MM(300) + surveyStep*defects.MM(surveyRows-1-i)
		cells := make([]string, surveyColumns)
		for c := range cells {
			x := surveyFrom + surveyStep*defects.MM(c)
			dx, dz := float64(x-4600)/1700, float64(z-2300)/1300
			v := 31*math.Exp(-dx*dx-dz*dz) - 0.7*float64(z)/1000 + 0.7*rng.NormFloat64()
			if i != 3 || c != 12 {
				cells[c] = strconv.FormatFloat(math.Round(2*v)/2, 'f', 1, 64)
			}
		}
		lines[i] = strings.Join(cells, ",")
	}
	return strings.Join(lines, "\n")
}

// weather plans the log of a few days of base coat: a day as it should be, one
// without its noon, and one that begins too cold, after a night of frost.
func (d *demo) weather() {
	type line struct {
		day                  int
		hour                 float64
		air, wall, humid, by string
		note                 string
	}
	for _, l := range []line{
		{46, 8, "8.4", "7.9", "78", "clerk", "dry, light wind"},
		{46, 12, "11.2", "11.0", "70", "installer", ""},
		{46, 16.25, "9.6", "10.1", "74", "clerk", ""},
		{47, 6, "6.1", "", "", "clerk", "night's minimum, from the logger"},
		{47, 8.25, "7.2", "6.8", "84", "clerk", "overcast"},
		{47, 16.5, "6.3", "7.0", "88", "clerk", "sheeted for the night"},
		{48, 5, "-1.2", "", "", "clerk", "night's minimum, from the logger"},
		{48, 8, "1.6", "0.9", "92", "clerk", "ground frost, boards wet"},
		{48, 10, "4.4", "3.6", "86", "installer", ""},
		{48, 12, "6.9", "5.8", "76", "installer", "sun on the wall"},
		{48, 16, "6.0", "6.4", "79", "clerk", ""},
	} {
		at := d.calendar.at(l.day, l.hour)
		noted := at
		if l.hour < 7 {
			noted = d.calendar.at(l.day, 7.75) // when somebody read the logger
		}
		d.on(noted, "weather", func(ctx context.Context) error {
			w, err := d.wall(hareSouth)
			if err != nil {
				return err
			}
			in := register.WeatherInput{
				At: at.Format(time.RFC3339), Air: l.air, Surface: l.wall, Humidity: l.humid, InstrumentID: toolAir, Note: l.note,
			}
			if l.wall != "" {
				in.ElevationID = w.ID
			}
			results, err := d.reg.AddWeather(ctx, d.people[l.by], d.site, []register.WeatherInput{in})
			if err == nil && results[0].Err != nil {
				err = results[0].Err
			}
			return err
		})
	}
}
