package cli

import "storeyrod/defects"

// spreads are the ordinary readings of twelve weeks. Means and spreads are
// invented, near what the trade takes as usual.
func spreads() []spread {
	list := append(boardSpreads(), coatSpreads()...)
	return append(append(list, slipSpreads()...), detailSpreads()...)
}

func boardSpreads() []spread {
	tear := of("bond_strength", "N/mm2", "SP", larkSouth, toolBond)
	tear.FailurePlane, tear.Dolly = "adhesive/substrate", "50 mm round"
	moist := of("moisture_index", "index", "SV", quillSouth, "")
	moist.Mode = "masonry"
	return []spread{
		{of("moisture_mass", "%", "SV", larkNorth, toolMoisture), "clerk", 3.1, 0.7, 0.1, 6, 1},
		{moist, "clerk", 41, 6, 1, 5, 8},
		{of("crack_width", "mm", "SV", larkEast, toolDepth), "clerk", 0.3, 0.1, 0.1, 4, 1},
		{tear, "clerk", 0.17, 0.03, 0.01, 6, 4},
		{over(of("base_profile_level", "mm", "BP", larkSouth, toolLevel), "2"), "operative", 0, 0.6, 0.5, 6, 6},
		{of("base_profile_height", "mm", "BP", larkSouth, toolTape), "operative", 168, 5, 1, 7, 6},
		{of("board_gap", "mm", "IB", larkSouth, toolTaper), "operative", 0.9, 0.4, 0.1, 14, 9},
		{of("board_gap", "mm", "IB", hareSouth, toolTaper), "clerk", 1.1, 0.5, 0.1, 10, 21},
		{of("board_step", "mm", "IB", larkSouth, toolTaper), "operative", 0.8, 0.4, 0.1, 12, 10},
		{of("adhesive_contact_board", "%", "IB", larkSouth, ""), "clerk", 52, 6, 1, 8, 9},
		{of("board_overlap", "mm", "IB", larkNorth, toolTape), "operative", 262, 22, 1, 8, 12},
		{over(of("flatness", "mm", "IB", larkSouth, toolStraight), "2"), "clerk", 2.6, 0.9, 0.5, 10, 13},
		{against(of("board_thickness", "mm", "IB", hareSouth, toolTape), "120"), "operative", 120.6, 0.7, 1, 6, 20},
		{inZone(of("fixing_density", "1/m2", "FX", larkSouth, ""), defects.Field), "clerk", 6.8, 0.4, 0.1, 6, 15},
		{inZone(of("fixing_density", "1/m2", "FX", larkEast, ""), defects.Edge), "clerk", 8.9, 0.5, 0.1, 5, 15},
		{of("plate_level", "mm", "FX", larkSouth, toolDepth), "operative", -0.8, 0.4, 0.1, 14, 16},
	}
}

func coatSpreads() []spread {
	return []spread{
		{of("air_temperature", "degC", "BM", "", toolAir), "clerk", 13, 3, 0.5, 12, 17},
		{of("surface_temperature", "degC", "BM", larkSouth, toolAir), "clerk", 12, 3, 0.5, 8, 17},
		{of("relative_humidity", "%", "BM", "", ""), "clerk", 68, 8, 1, 8, 17},
		{of("mix_water", "l/25kg", "BM", "", ""), "operative", 5.4, 0.2, 0.1, 6, 18},
		{of("mix_time", "min", "BM", "", ""), "operative", 5.8, 0.5, 0.5, 4, 18},
		{of("base_coat_depth_wet", "mm", "BM", larkSouth, toolWetFilm), "operative", 5.5, 0.4, 0.25, 16, 18},
		{byGang(of("base_coat_depth_wet", "mm", "BM", hareSouth, toolWetFilm), gangRowan), "installer2", 5.2, 0.5, 0.25, 8, 34},
		{of("mesh_lap", "mm", "BM", larkSouth, toolTape), "operative", 118, 7, 1, 12, 19},
		{byGang(of("mesh_lap", "mm", "BM", hareSouth, toolTape), gangRowan), "clerk", 112, 8, 1, 8, 35},
		{of("mesh_position", "ratio", "BM", larkSouth, ""), "clerk", 0.66, 0.05, 0.01, 5, 20},
		{over(of("flatness", "mm", "BM", larkSouth, toolStraight), "2"), "clerk", 1.7, 0.4, 0.5, 10, 23},
		{over(of("flatness", "mm", "SL", larkSouth, toolStraight), "4"), "clerk", 5.5, 1.2, 0.5, 6, 40},
	}
}

func slipSpreads() []spread {
	return []spread{
		{of("mortar_age", "month", "SL", larkSouth, ""), "clerk", 5, 2, 1, 4, 27},
		{of("joint_width_bed", "mm", "SL", larkSouth, toolCalliper), "operative", 10.1, 0.9, 0.1, 24, 28},
		{of("joint_width_bed", "mm", "SL", larkNorth, toolCalliper), "clerk", 10.3, 1.0, 0.1, 10, 36},
		{of("joint_width_perpend", "mm", "SL", larkSouth, toolCalliper), "operative", 10.0, 1.0, 0.1, 18, 29},
		{of("slip_lipping", "mm", "SL", larkSouth, toolDepth), "operative", 0.9, 0.4, 0.1, 14, 30},
		{courses(of("course_gauge", "mm", "SL", larkSouth, toolTape), 4), "operative", 300, 0.7, 1, 10, 31},
		{courses(of("course_gauge", "mm", "SL", larkSouth, toolTape), 10), "clerk", 750, 1.4, 1, 5, 31},
		{of("adhesive_contact_slip", "%", "SL", larkSouth, ""), "clerk", 95, 1.5, 1, 8, 29},
		{over(of("bed_joint_level", "mm", "SL", larkSouth, toolLevel), "5"), "clerk", 0, 3, 0.5, 8, 33},
		{of("joint_fill_depth", "mm", "PT", larkSouth, toolDepth), "operative", 10.4, 0.8, 0.1, 12, 42},
		{against(of("joint_recess", "mm", "TB", larkSouth, toolDepth), "2"), "clerk", 2.1, 0.3, 0.1, 8, 44},
	}
}

func detailSpreads() []spread {
	return []spread{
		{over(of("plumb", "mm", "OP", larkSouth, toolPlumb), "2.5"), "clerk", 1.5, 2.5, 0.5, 10, 14},
		{of("sill_overhang", "mm", "OP", larkSouth, toolTape), "operative", 39, 3, 1, 6, 17},
		{of("sill_fall", "deg", "OP", larkSouth, ""), "operative", 6.6, 0.5, 0.5, 6, 17},
		{of("seal_setback", "mm", "OP", larkSouth, toolDepth), "operative", 4.5, 0.1, 0.1, 4, 18},
		{of("sealant_depth", "mm", "AB", larkWest, toolDepth), "operative", 7.4, 0.5, 0.1, 6, 38},
		{against(of("movement_joint_width", "mm", "MJ", larkNorth, toolCalliper), "15"), "clerk", 15.2, 0.6, 0.1, 5, 37},
		{over(of("plumb", "mm", "SV", quillEast, toolPlumb), "7"), "clerk", 3, 3, 0.5, 6, 8},
	}
}
