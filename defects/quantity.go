package defects

import "fmt"

// Need is a fact without which a value of a quantity has no meaning.
type Need string

// The needs a quantity may have; NeedNothing is the common case.
const (
	NeedNothing      Need = ""
	NeedBaseLength   Need = "base_length_m"   // distance in metres over which it was measured
	NeedZone         Need = "zone"            // field, edge or ground
	NeedCourses      Need = "courses"         // number of courses measured over, 4 or 10
	NeedFailurePlane Need = "failure_plane"   // layer or interface that tore
	NeedMode         Need = "instrument_mode" // mode of a moisture meter
)

// Quantity is one kind of measured value. Unit is the only spelling taken; a
// value is never converted. PlausibleMin and PlausibleMax are wide bounds that
// catch slips of typing; they are no limits of quality.
type Quantity struct {
	Name         string
	Unit         string
	Needs        Need
	Meaning      string
	PlausibleMin Decimal
	PlausibleMax Decimal
}

// Quantities lists every quantity in the order of the work, and is a new slice
// at each call.
func Quantities() []Quantity {
	rows := quantityRows()
	list := make([]Quantity, len(rows))
	for i, r := range rows {
		list[i] = Quantity{
			Name: r.name, Unit: r.unit, Needs: r.needs, Meaning: r.meaning,
			PlausibleMin: DecimalOf(r.low), PlausibleMax: DecimalOf(r.high),
		}
	}
	return list
}

// QuantityByName finds a quantity; the bool is false for an unknown name.
func QuantityByName(name string) (Quantity, bool) {
	for _, r := range quantityRows() {
		if r.name == name {
			return Quantity{
				Name: r.name, Unit: r.unit, Needs: r.needs, Meaning: r.meaning,
				PlausibleMin: DecimalOf(r.low), PlausibleMax: DecimalOf(r.high),
			}, true
		}
	}
	return Quantity{}, false
}

// CheckUnit refuses any unit but the quantity's own, with code wrong_unit and
// both units in the text. Nothing is converted: a kN typed as N must be seen by
// the person who typed it.
func CheckUnit(q Quantity, unit string) error {
	if unit == q.Unit {
		return nil
	}
	given := "no unit"
	if unit != "" {
		given = fmt.Sprintf("%q", clip(unit, 20))
	}
	return RefuseField(Invalid, "unit", "wrong_unit",
		fmt.Sprintf("%s is measured in %s; %s was given, and units are not converted", q.Name, q.Unit, given))
}

type quantityRow struct {
	name      string
	unit      string
	needs     Need
	low, high int64
	meaning   string
}

// quantityRows is an array literal so that no package variable can be changed.
func quantityRows() [57]quantityRow {
	return [57]quantityRow{
		{"joint_width_bed", "mm", NeedNothing, 0, 60, "clear width of a bed (horizontal) joint"},
		{"joint_width_perpend", "mm", NeedNothing, 0, 60, "clear width of a perpend (vertical) joint"},
		{"bed_joint_level", "mm", NeedBaseLength, -100, 100, "bed joint off level over a length"},
		{"plumb", "mm", NeedBaseLength, -150, 150, "offset from plumb over a height; + towards the viewer"},
		{"flatness", "mm", NeedBaseLength, 0, 100, "gap under a straightedge; base length = distance between the high points"},
		{"straightness_on_plan", "mm", NeedBaseLength, -150, 150, "offset from a straight line along the wall"},
		{"position", "mm", NeedNothing, -500, 500, "distance of an element from where the drawing puts it"},
		{"angle_offset", "mm", NeedBaseLength, -150, 150, "offset of a corner, reveal or arris from square, as a length"},
		{"course_gauge", "mm", NeedCourses, 0, 3000, "height over a number of courses (4 or 10)"},
		{"slip_lipping", "mm", NeedNothing, 0, 30, "step between neighbouring slips"},
		{"joint_recess", "mm", NeedNothing, 0, 30, "depth of the tooled joint below the slip face"},
		{"joint_fill_depth", "mm", NeedNothing, 0, 40, "depth of pointing mortar found in a joint"},
		{"base_coat_depth_wet", "mm", NeedNothing, 0, 40, "base coat depth, wet gauge"},
		{"base_coat_depth_dry", "mm", NeedNothing, 0, 40, "base coat depth, cut-out"},
		{"mesh_lap", "mm", NeedNothing, 0, 500, "overlap of neighbouring mesh sheets"},
		{"mesh_position", "ratio", NeedNothing, 0, 1, "depth of the mesh in the coat, 0 = insulation side, 1 = face"},
		{"carrier_gap", "mm", NeedNothing, 0, 100, "gap between slip-carrier sheets"},
		{"board_gap", "mm", NeedNothing, 0, 100, "gap at an insulation board joint"},
		{"board_step", "mm", NeedNothing, 0, 50, "step between neighbouring boards"},
		{"board_overlap", "mm", NeedNothing, 0, 1200, "horizontal offset of vertical joints between rows"},
		{"cut_board_width", "mm", NeedNothing, 0, 1300, "width of a cut piece of board"},
		{"board_thickness", "mm", NeedNothing, 10, 400, "thickness of a board"},
		{"adhesive_contact_board", "%", NeedNothing, 0, 100, "share of the board's back really bonded"},
		{"adhesive_contact_slip", "%", NeedNothing, 0, 100, "share of the slip's back really bonded"},
		{"base_profile_height", "mm", NeedNothing, 0, 2000, "underside of the base profile above finished ground"},
		{"base_profile_level", "mm", NeedBaseLength, -50, 50, "base profile off level over a length"},
		{"profile_fixing_spacing", "mm", NeedNothing, 0, 2000, "distance between neighbouring fixings of a profile"},
		{"seal_setback", "mm", NeedNothing, -20, 60, "setback of the seal tape behind the finished line"},
		{"fixing_density", "1/m2", NeedZone, 0, 40, "anchors per square metre"},
		{"fixing_count_board", "count", NeedZone, 0, 40, "anchors in one board"},
		{"plate_level", "mm", NeedNothing, -20, 20, "anchor plate against the board face; - is below"},
		{"pull_out_load", "kN", NeedNothing, 0, 25, "anchor load at failure, site test"},
		{"proof_load", "kN", NeedNothing, 0, 25, "anchor load held in a proof test"},
		{"bond_strength", "N/mm2", NeedFailurePlane, 0, 10, "pull-off strength"},
		{"air_temperature", "degC", NeedNothing, -30, 60, "air temperature at the work"},
		{"surface_temperature", "degC", NeedNothing, -30, 80, "temperature of the surface"},
		{"relative_humidity", "%", NeedNothing, 0, 100, "relative humidity of the air"},
		{"moisture_mass", "%", NeedNothing, 0, 40, "moisture by mass (carbide or oven)"},
		{"moisture_index", "index", NeedMode, 0, 1000, "relative meter reading; never judged as a percentage"},
		{"mortar_age", "month", NeedNothing, 0, 240, "age of bagged material since manufacture, whole months by calendar"},
		{"mix_water", "l/25kg", NeedNothing, 0, 20, "water used per 25 kg bag"},
		{"mix_time", "min", NeedNothing, 0, 60, "mechanical mixing time"},
		{"stand_time", "min", NeedNothing, 0, 120, "standing time before re-mixing"},
		{"drying_time", "d", NeedNothing, 0, 365, "days since the coat was finished"},
		{"crack_width", "mm", NeedNothing, 0, 50, "crack width by gauge"},
		{"movement_joint_width", "mm", NeedNothing, 0, 100, "width of a movement joint"},
		{"sealant_depth", "mm", NeedNothing, 0, 60, "depth of sealant"},
		{"sill_overhang", "mm", NeedNothing, 0, 200, "sill projection past the finished face"},
		{"sill_fall", "deg", NeedNothing, -10, 45, "fall of a sill"},
		{"barrier_height", "mm", NeedNothing, 0, 1000, "height of a fire barrier"},
		{"size_deviation", "mm", NeedBaseLength, -500, 500, "departure of a size from its drawing; base length = the size drawn"},
		{"straightness_in_section", "mm", NeedBaseLength, -150, 150, "offset from a straight line over a height of wall, not levelled"},
		{"storey_alignment", "mm", NeedNothing, -150, 150, "offset between the centre lines of walls above and below a floor"},
		{"leaf_thickness", "mm", NeedNothing, 0, 1000, "thickness of one leaf of masonry"},
		{"wall_thickness", "mm", NeedNothing, 0, 1500, "overall thickness of a wall, cavities included"},
		{"render_thickness", "mm", NeedNothing, 0, 100, "thickness of an external render on masonry"},
		{"mark_diameter", "mm", NeedNothing, 0, 500, "greatest diameter of a chip or mark in a finished face"},
	}
}
