package defects

// Stable words of Verdict.Reason. Each has a plain-English text that says what
// would supply a missing fact.
const (
	ReasonNoLimit             = "no_limit"
	ReasonUnknownQuantity     = "unknown_quantity"
	ReasonWrongUnit           = "wrong_unit"
	ReasonBaseLengthMissing   = "base_length_missing"
	ReasonBadBaseLength       = "bad_base_length"
	ReasonBaseLengthOutside   = "base_length_outside"
	ReasonZoneMissing         = "zone_missing"
	ReasonStageMissing        = "stage_missing"
	ReasonCoursesMissing      = "courses_missing"
	ReasonFailurePlaneMissing = "failure_plane_missing"
	ReasonModeMissing         = "instrument_mode_missing"
	ReasonNominalMissing      = "nominal_missing"
	ReasonBadNominal          = "bad_nominal"
	ReasonTrendMissing        = "trend_missing"
	ReasonDewPointUnknown     = "dew_point_unknown"
	ReasonBadAir              = "bad_air"
	ReasonAreaMissing         = "area_missing"
	ReasonNotComparable       = "not_comparable"
	ReasonJudgedAsSet         = "judged_as_set"
	ReasonJudgedSingly        = "judged_singly"
	ReasonTooFew              = "too_few"
	ReasonRequiredMissing     = "required_missing"
	ReasonCalibrationExpired  = "calibration_expired"
	ReasonBadUncertainty      = "bad_uncertainty"
	ReasonBadRule             = "bad_rule"

	// These weaken or explain a verdict that there is.
	ReasonUncertaintyMissing = "uncertainty_missing"
	ReasonProtect            = "protection_needed"
	ReasonPlaneExcepted      = "failure_plane_excepted"
)

func reasonText(reason string) string {
	switch reason {
	case ReasonTrendMissing:
		return "near the limit it matters where the temperature is going; state rising, falling or steady"
	case ReasonDewPointUnknown:
		return "the dew point is not known; state the temperature and relative humidity of the air"
	case ReasonBadAir:
		return "the dew point is not known: the air is stated outside what the formula takes, above 0 to 100 % relative humidity"
	case ReasonBadNominal:
		return "the nominal value must be above 0"
	case ReasonProtect:
		return "allowed; protect the work from cold until it has set"
	case ReasonNoLimit:
		return "the schedule has no limit for this quantity under these conditions"
	case ReasonUnknownQuantity:
		return "no such quantity"
	case ReasonWrongUnit:
		return "the unit is not the quantity's own; enter the value again in that unit"
	case ReasonBaseLengthMissing:
		return "the distance it was measured over is not stated; enter the base length in metres"
	case ReasonBadBaseLength:
		return "the base length must be above 0 m"
	case ReasonBaseLengthOutside:
		return "the limit gives no figure for this base length; measure over a length it names"
	case ReasonZoneMissing:
		return "the limit depends on the zone; state field, edge or ground"
	case ReasonStageMissing:
		return "the limit depends on the stage; state the stage of the work"
	case ReasonCoursesMissing:
		return "the number of courses measured over is not stated; enter 4 or 10"
	case ReasonFailurePlaneMissing:
		return "the failure plane is not named; enter the layer or interface that tore"
	case ReasonModeMissing:
		return "the meter's mode is not stated; enter it as on the instrument"
	case ReasonNominalMissing:
		return "the limit is relative to a nominal value; enter the design or sample value"
	case ReasonAreaMissing:
		return "the limit is per area; enter the area of the board in square metres"
	case ReasonNotComparable:
		return "a meter index is no percentage by mass; take a carbide or oven-dried sample"
	case ReasonJudgedAsSet:
		return "this quantity is judged as a set; a single value has no verdict of its own"
	}
	return reasonTextSet(reason)
}

func reasonTextSet(reason string) string {
	switch reason {
	case ReasonJudgedSingly:
		return "each of these readings is judged by itself; no limit in force judges them as a set"
	case ReasonRequiredMissing:
		return "the required characteristic value is not stated; the designer gives it"
	case ReasonCalibrationExpired:
		return "the instrument was out of calibration on that day; measure again with one in calibration"
	case ReasonBadUncertainty:
		return "an expanded uncertainty cannot be negative"
	case ReasonBadRule:
		return "no such decision rule"
	case ReasonUncertaintyMissing:
		return "no uncertainty is known, so the limit was used as it stands; state the instrument or U"
	case ReasonPlaneExcepted:
		return "accepted by its failure plane, which the limit allows in place of the value"
	}
	return ""
}
