package defects

// DefectKind is one row of the defect catalogue.
type DefectKind struct {
	Code        string // "SL-07": stage letters and a number, never used twice
	Stage       string
	Group       string // the stage's name in the catalogue
	Name        string
	Seen        string // how it is seen or measured
	Cause       string
	Consequence string
	Severity    Severity
	AfterCover  AfterCover
	MakingGood  string
	Evidence    string // what close-out needs
	Basis       string // "CP" common practice, "M" memory, "R:KEY" read in the source of that key
	Quantities  []string
	// NeedsCompetent is the licensed or competent person whom the defect calls
	// for: "fire", "gas", "electric", "structure"; empty for ordinary work.
	NeedsCompetent string
}

// AfterCover says whether a defect can still be put right once covered.
type AfterCover string

// The answers.
const (
	Correctable    AfterCover = "Y" // yes
	OpeningUp      AfterCover = "O" // only by opening up
	NotCorrectable AfterCover = "N" // not without taking off what covers it
)

// KindForFailure is the code of the defect that a failed reading of a quantity
// shows at a stage; empty when the catalogue has none. The stage decides where
// a quantity belongs to several layers.
func KindForFailure(quantity, stage string) string {
	if code := kindByStage(quantity, stage); code != "" {
		return code
	}
	return kindByQuantity(quantity)
}

// KindForReading is KindForFailure with the zone taken into account: too few
// fixings in an edge zone are the edge pattern not used.
func KindForReading(r Reading) string {
	if r.Place.Zone == Edge && (r.Quantity == "fixing_density" || r.Quantity == "fixing_count_board") {
		return "FX-02"
	}
	return KindForFailure(r.Quantity, r.Stage)
}

func kindByStage(quantity, stage string) string {
	switch quantity + "@" + stage {
	case "plumb@OP", "angle_offset@OP":
		return "OP-05"
	case "plumb@SL":
		return "SL-08"
	case "flatness@SV", "plumb@SV", "straightness_on_plan@SV":
		return "SV-07"
	case "flatness@SP":
		return "SP-03"
	case "flatness@IB":
		return "IB-08"
	case "bed_joint_level@CM":
		return "CM-02"
	case "fixing_density@CM", "profile_fixing_spacing@CM":
		return "CM-01"
	case "air_temperature@SL", "surface_temperature@SL":
		return "SL-14"
	case "bond_strength@SV", "bond_strength@SP":
		return "SV-05"
	case "crack_width@SV", "crack_width@SP":
		return "SV-06"
	case "crack_width@PT":
		return "PT-05"
	}
	return ""
}

func kindByQuantity(quantity string) string {
	groups := []struct {
		code       string
		quantities []string
	}{
		{"SL-07", []string{"joint_width_bed", "joint_width_perpend"}},
		{"SL-06", []string{"bed_joint_level"}},
		{"CR-01", []string{"plumb", "straightness_on_plan"}},
		{"BM-10", []string{"flatness"}},
		{"OP-05", []string{"angle_offset"}},
		{"SL-09", []string{"course_gauge"}},
		{"SL-10", []string{"slip_lipping"}},
		{"TB-01", []string{"joint_recess"}},
		{"PT-01", []string{"joint_fill_depth"}},
		{"BM-01", []string{"base_coat_depth_wet", "base_coat_depth_dry"}},
		{"BM-04", []string{"mesh_lap"}},
		{"BM-03", []string{"mesh_position"}},
		{"CM-03", []string{"carrier_gap"}},
		{"IB-03", []string{"board_gap"}},
		{"IB-08", []string{"board_step"}},
		{"IB-05", []string{"board_overlap"}},
		{"IB-09", []string{"board_thickness"}},
		{"IB-01", []string{"adhesive_contact_board"}},
		{"SL-01", []string{"adhesive_contact_slip"}},
		{"BP-03", []string{"base_profile_height"}},
		{"BP-01", []string{"base_profile_level"}},
		{"BP-02", []string{"profile_fixing_spacing"}},
		{"FX-01", []string{"fixing_density", "fixing_count_board"}},
		{"FX-05", []string{"plate_level"}},
		{"SV-03", []string{"pull_out_load"}},
		{"FX-09", []string{"proof_load"}},
		{"SL-05", []string{"bond_strength"}},
		{"BM-08", []string{"air_temperature", "surface_temperature"}},
		{"SV-04", []string{"moisture_mass", "moisture_index"}},
		{"CL-04", []string{"mortar_age"}},
		{"BM-09", []string{"drying_time"}},
		{"FN-02", []string{"crack_width"}},
		{"MJ-02", []string{"movement_joint_width"}},
		{"AB-01", []string{"sealant_depth"}},
		{"OP-01", []string{"sill_overhang", "sill_fall"}},
		{"FB-03", []string{"barrier_height"}},
	}
	for _, g := range groups {
		for _, name := range g.quantities {
			if name == quantity {
				return g.code
			}
		}
	}
	return ""
}
