package server

import "strings"

// textLabel is what a form calls its main text: each step asks something else.
func textLabel(prefix, path string) string {
	if strings.HasSuffix(path, "/hold-points") {
		return "Conditions, or reasons of a refusal"
	}
	label := map[string]string{
		"f": "What is to be seen", "instruct": "What is to be done", "acknowledge": "Method", "refuse": "What is still wrong",
		"close": "Remark", "dispute": "Reasons", "decide": "Reasons", "defer": "Why it is harmless till then",
		"concede-ask": "Why it should be kept as built", "concede-grant": "Remark", "concede-refuse": "Why it is refused",
		"withdraw": "Why it is taken back", "reopen": "What has come back",
	}[prefix]
	if label == "" {
		return "Remark"
	}
	return label
}

// fieldWords is what the pages call an input. One they do not name is read as
// words: "made_good.colour" becomes "Made good, colour".
func fieldWords(field string) string {
	if label := fieldLabels()[field]; label != "" {
		return label
	}
	return sentence(strings.NewReplacer("_", " ", ".", ", ", "[", " ", "]", "").Replace(field))
}

// fieldLabels names the inputs whose names do not read as words.
func fieldLabels() map[string]string {
	return map[string]string{
		"access": "How it is reached once the scaffold is gone", "area_m2": "Board area", "base_length_m": "Base length",
		"base_line": "Base line above the ground", "bays": "Right end of each bay", "by": "Measured by", "code": "Code of the catalogue",
		"completed_on": "Practical completion", "concession.area": "Area", "concession.conditions": "Conditions",
		"concession.deviation": "Measured value it is to cover", "concession.document": "Competent person's written answer",
		"concession.expires": "Expires", "concession.from": "Same terms as snag no.", "concession.part": "Part of the concession",
		"confirmed": "Confirmed", "corners": "Corners", "covered": "Covered already", "defects_months": "Defects period",
		"due": "By when", "event": "Until the event", "expanded": "U (k = 2)", "expanded_uncertainty": "U (k = 2)",
		"edge": "Ordered in the edge zone, per m²", "edge_width_m": "Width of the edge zone", "field": "Ordered in the field, per m²",
		"gamma_q": "Partial factor on the wind", "left_m": "Left edge of the board", "peak_N": "Peak load", "lot": "Size of the lot",
		"of": "Drawn from", "bad": "Bad items", "board": "Board", "seed": "Seed", "aql": "Acceptance quality limit",
		"file": "Photos", "inspection": "How it was inspected", "lifts": "Top of each lift", "made_good.batch": "Batch",
		"made_good.by": "Made good by", "made_good.kind": "Rework or repair", "made_good.product": "Product",
		"made_good.started": "Start of the work", "made_good.text": "What was removed, what was used",
		"no_reading_reason": "Measured defect without a reading: why", "number": "Number of the snag", "on": "Day",
		"photos": "Photos", "plan": "Corners", "planned_on": "Planned for", "quota_mb": "Most the photos may take", "requirement": "What had to be met", "ring": "Outline",
		"set": "Test set", "stands": "Ruling", "text": "Remark", "x": "x, from the left end", "x_m": "x, from the left end",
		"offsets": "Offsets in mm", "dx_m": "Step along the wall", "dz_m": "Step up the wall", "straightedge_m": "Straightedge",
		"air_c": "Air", "surface_c": "Wall", "relative_humidity": "Humidity", "at": "When", "day": "Day", "frost_hours": "Hours without frost afterwards",
		"cut_back_mm": "May be cut back",
		"z":           "z, above the base line", "z_m": "z, above the base line",
	}
}
