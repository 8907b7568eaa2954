package cli

import (
	"bytes"
	"context"
	"embed"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

//go:embed demodata
var demoData embed.FS

const (
	demoSeed = 1912
	demoZone = "Europe/London"
)

// demo is the building of the invented site. What happens on it is planned
// first, as events on the calendar, and then played in the order of time
// through the use cases, by the people concerned.
type demo struct {
	reg      *register.Register
	clock    *movableClock
	calendar demoCalendar
	rng      *rand.Rand
	progress io.Writer

	site   string
	people map[string]register.Actor
	walls  map[string]wall // by "Building / Name"
	shots  []*shot
	events []demoEvent
}

// demoEvent is one thing that somebody does.
type demoEvent struct {
	at   time.Time
	what string
	do   func(ctx context.Context) error
}

// buildDemo fills an empty instance and leaves the clock at the real time.
func buildDemo(ctx context.Context, reg *register.Register, clock *movableClock, progress io.Writer) error {
	began := time.Now()
	zone, err := time.LoadLocation(demoZone)
	if err != nil {
		return fmt.Errorf("time zone of the demo: %w", err)
	}
	defer clock.set(time.Time{})
	d := &demo{
		reg: reg, clock: clock, calendar: newCalendar(began, zone), rng: rand.New(rand.NewPCG(demoSeed, demoSeed)),
		progress: progress, people: map[string]register.Actor{}, walls: map[string]wall{},
	}
	d.clock.set(d.calendar.at(0, 7))
	for _, step := range []struct {
		what string
		do   func(context.Context) error
	}{
		{"people and site", d.setUp},
		{"walls", d.build},
		{"instruments", d.equip},
		{"plan", d.planAll},
		{"photos", d.draw},
		{"twelve weeks on site", d.play},
	} {
		fmt.Fprintf(progress, "demo: %s\n", step.what)
		if err := step.do(ctx); err != nil {
			return fmt.Errorf("demo, %s: %w", step.what, err)
		}
	}
	fmt.Fprintln(progress, "demo: view copies")
	if err := d.copies(ctx); err != nil {
		return fmt.Errorf("demo, view copies: %w", err)
	}
	fmt.Fprintf(progress, "demo: ready after %.1f s\n", time.Since(began).Seconds())
	return nil
}

// on plans an event.
func (d *demo) on(at time.Time, what string, do func(ctx context.Context) error) {
	d.events = append(d.events, demoEvent{at, what, do})
}

// play lets the events happen.
func (d *demo) play(ctx context.Context) error {
	slices.SortStableFunc(d.events, func(a, b demoEvent) int { return a.at.Compare(b.at) })
	tick := newTicker(d.progress, "demo: events", len(d.events))
	for _, e := range d.events {
		d.clock.set(e.at)
		if err := e.do(ctx); err != nil {
			return fmt.Errorf("%s on %s: %w", e.what, e.at.Format("2 January 15:04"), err)
		}
		tick.one()
	}
	tick.end()
	return nil
}

// copies makes the view copies of all photos.
func (d *demo) copies(ctx context.Context) error {
	tick := newTicker(d.progress, "demo: view copies", len(d.shots))
	for {
		done, err := d.reg.DeriveWaiting(ctx, 10)
		if err != nil || done == 0 {
			tick.end()
			return err
		}
		tick.add(done)
	}
}

// person is one of the invented people.
type person struct {
	login, name, words, device string
	role                       defects.Role
	gang                       string
}

const (
	gangLarch = "gang Larch"
	gangRowan = "gang Rowan"
)

// demoPeople lists them; those for whom links matter most come first. All names
// are invented.
func demoPeople() []person {
	return []person{
		{"clerk", "Edda Quillfeather", "clerk of works", "clerk's phone", defects.Clerk, ""},
		{"installer", "Tobin Marlwood", "installer", "installer's tablet", defects.Installer, gangLarch},
		{"auditor", "Isla Brackenridge", "warranty auditor", "auditor's desk", defects.Auditor, ""},
		{"operative", "Perrin Slatehill", "operative", "operative's phone", defects.Operative, gangLarch},
		{"installer2", "Oona Thistlebeck", "installer", "second installer's phone", defects.Installer, gangRowan},
		{"designer", "Corin Halewick", "designer", "designer's desk", defects.Designer, ""},
		{"manager", "Wenda Astleyroe", "contract administrator", "manager's desk", defects.Manager, ""},
		{"owner", "Bram Nettlecombe", "building owner", "owner's desk", defects.Owner, ""},
	}
}

// setUp makes the accounts, the site and its rules.
func (d *demo) setUp(ctx context.Context) error {
	operator := register.System(device())
	site, err := d.reg.CreateSite(ctx, operator, register.NewSite{
		Name: demoSite, TimeZone: demoZone, Rule: defects.FourWay, Demo: true,
		Schedules: []string{"ewi-common-practice", "labc-v7-fair-faced", "din-18202-t3-line6"},
	})
	if err != nil {
		return err
	}
	d.site = site.ID
	for _, p := range demoPeople() {
		acc, err := d.reg.CreateAccount(ctx, operator, register.NewAccount{Login: p.login, Name: p.name})
		if err != nil {
			return err
		}
		d.people[p.login] = register.Actor{AccountID: acc.ID, Name: acc.Name, Device: p.device}
		if err := d.reg.SetRole(ctx, operator, d.site, p.login, p.role, p.gang); err != nil {
			return err
		}
	}
	return d.agreeLimits(ctx, site.Version)
}

// agreeLimits puts the designer's own schedule in force before the others.
func (d *demo) agreeLimits(ctx context.Context, version int) error {
	text, err := demoData.ReadFile("demodata/larkrow-project.json")
	if err != nil {
		return err
	}
	own, err := d.reg.AddSchedule(ctx, d.people["designer"], d.site, bytes.NewReader(text))
	if err != nil {
		return err
	}
	chosen := []string{defects.ScheduleRef(own), "ewi-common-practice", "labc-v7-fair-faced", "din-18202-t3-line6", "dew-point-practice"}
	_, err = d.reg.UpdateSite(ctx, d.people["designer"], d.site, version, register.SitePatch{Schedules: &chosen})
	return err
}

// tool is an instrument of the demo with one certificate.
type tool struct {
	name, kind, serial, unit, resolution, expanded string
	from, to                                       int // working days of the certificate
}

const (
	toolCalliper  = "joint calliper 1"
	toolTaper     = "taper gauge 2"
	toolLevel     = "laser level 1"
	toolPlumb     = "plumb gauge 1"
	toolTape      = "tape 3"
	toolWetFilm   = "wet film comb 4"
	toolPullGood  = "pull tester A"
	toolPullOver  = "pull tester B"
	toolBond      = "bond tester 1"
	toolAir       = "thermometer 2"
	toolMoisture  = "carbide set 1"
	toolStraight  = "straightedge 2 m"
	toolDepth     = "depth gauge 1"
	daysCertified = 150
)

func demoTools() []tool {
	return []tool{
		{toolCalliper, "calliper", "LC-0311", "mm", "0.1", "0.3", -60, daysCertified},
		{toolTaper, "taper gauge", "LC-0207", "mm", "0.1", "0.2", -90, daysCertified},
		{toolLevel, "laser level", "LC-1180", "mm", "0.5", "1.0", -40, daysCertified},
		{toolPlumb, "plumb gauge", "LC-0442", "mm", "0.5", "1.0", -40, daysCertified},
		{toolTape, "steel tape", "LC-0019", "mm", "1", "1.0", -100, daysCertified},
		{toolWetFilm, "wet film comb", "LC-0553", "mm", "0.25", "0.3", -20, daysCertified},
		{toolPullGood, "pull-out tester", "LC-7001", "kN", "0.01", "0.04", -30, daysCertified},
		{toolPullOver, "pull-out tester", "LC-7002", "kN", "0.01", "0.04", -260, -10},
		{toolBond, "pull-off tester", "LC-7100", "N/mm2", "0.01", "0.01", -30, daysCertified},
		{toolAir, "thermometer", "LC-0802", "degC", "0.1", "0.5", -30, daysCertified},
		{toolMoisture, "carbide meter", "LC-0901", "%", "0.1", "0.3", -30, daysCertified},
		{toolStraight, "straightedge with wedge", "LC-0610", "mm", "0.1", "0.3", -60, daysCertified},
		{toolDepth, "depth gauge", "LC-0702", "mm", "0.1", "0.2", -60, daysCertified},
	}
}

// equip adds the instruments.
func (d *demo) equip(ctx context.Context) error {
	for _, t := range demoTools() {
		resolution, expanded := defects.MustDecimal(t.resolution), defects.MustDecimal(t.expanded)
		added, err := d.reg.AddInstrument(ctx, d.people["clerk"], d.site, register.NewInstrument{
			Name: t.name, Kind: t.kind, Serial: t.serial, Unit: t.unit, Resolution: &resolution,
		})
		if err != nil {
			return err
		}
		on := d.calendar.start.AddDate(0, 0, t.from).Format("2006-01-02")
		due := d.calendar.start.AddDate(0, 0, t.to).Format("2006-01-02")
		_, err = d.reg.AddCalibration(ctx, d.people["clerk"], d.site, added.ID, added.Version, defects.Calibration{
			Certificate: "invented certificate " + t.serial, On: on, Due: due, Expanded: &expanded,
		})
		if err != nil {
			return err
		}
	}
	return nil
}
