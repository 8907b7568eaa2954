package cli

import (
	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/imaging"
)

// Short ways to say what a photo shows.

func slips(fault imaging.FaultKind, size float64) *scene {
	return &scene{layer: imaging.SceneSlips, tone: "red", fault: fault, size: size, tape: true, stage: "SL", kind: "detail"}
}

func boards(fault imaging.FaultKind, size float64) *scene {
	return &scene{layer: imaging.SceneBoards, fault: fault, size: size, tape: true, stage: "IB", kind: "detail"}
}

func coat(fault imaging.FaultKind, size float64) *scene {
	return &scene{layer: imaging.SceneCoat, fault: fault, size: size, tape: true, stage: "BM", kind: "detail"}
}

func (s scene) big() *scene {
	s.large = true
	return &s
}

// reading starts the measurement a snag is raised from.
func reading(quantity, value, unit, stage, tool string) *register.ReadingInput {
	in := of(quantity, unit, stage, "", tool)
	in.Value = value
	return &in
}

func readingOver(quantity, value, unit, stage, tool, metres string) *register.ReadingInput {
	in := reading(quantity, value, unit, stage, tool)
	in.BaseLength = metres
	return in
}

// slipLives go the ordinary way, from raised to closed, in slips and pointing.
func (d *demo) slipLives() []life {
	return []life{
		{
			wall: larkSouth, x: 6200, z: 3300, code: "SL-07", gang: gangLarch, by: "clerk", day: 31, hour: 10,
			text: "bed joint wide over six slips", photo: slips(imaging.FaultWideGap, 15).big(),
			measured: reading("joint_width_bed", "14.6", "mm", "SL", toolCalliper),
			turns: []turn{
				instructed(31, 15, "clerk", "relay the course between the two windows"), d.acknowledged(32, 9, "installer", 33),
				offered(33, 15, "installer", "six slips taken off, bed cleaned, relaid to the gauge rod", *slips("", 0)).with("10.4"),
				closed(34, 11, defects.OnSite),
			},
		},
		{
			wall: larkSouth, x: 15700, z: 1400, code: "SL-10", gang: gangLarch, by: "clerk", day: 32, hour: 10.5,
			text: "one slip stands out", photo: slips(imaging.FaultLipping, 4),
			measured: reading("slip_lipping", "3.4", "mm", "SL", toolDepth),
			turns: []turn{
				instructed(32, 16, "clerk", "replace the slip"),
				offered(35, 10, "installer", "slip replaced", *slips(imaging.FaultLipping, 3)).with("2.6"),
				refused(35, 14, "still stands out beyond the limit"),
				offered(37, 9, "installer", "taken off again, bed thinned, slip reset", *slips("", 0)).with("0.8"),
				closed(37, 15, defects.FromPhoto),
			},
		},
		{
			wall: larkNorth, x: 9200, z: 2600, code: "SL-06", gang: gangLarch, by: "clerk", day: 46, hour: 9.5,
			text: "courses drop towards the corner", photo: slips(imaging.FaultOffLevel, 24),
			measured: readingOver("bed_joint_level", "-16", "mm", "SL", toolLevel, "5"),
			turns: []turn{
				instructed(46, 14, "manager", "reset from the gauge rod"), d.acknowledged(47, 9, "installer", 50),
				offered(52, 11, "installer", "four courses taken off over five metres and relaid", *slips("", 0)).with("-3"),
			},
		},
		{
			wall: larkSouth, x: 27300, z: 4300, code: "PT-01", gang: gangLarch, by: "clerk", day: 49, hour: 11,
			text: "pointing shallow and hollow to the probe", photo: slips(imaging.FaultCrack, 700),
			measured: reading("joint_fill_depth", "5.2", "mm", "PT", toolDepth),
			turns: []turn{
				instructed(49, 15, "clerk", "rake out and repoint to full depth"), d.acknowledged(50, 9, "installer", 53),
			},
		},
	}
}

// layerLives went the same way in the layers below and at the details.
func (d *demo) layerLives() []life {
	return []life{
		{
			wall: hareSouth, x: 12100, z: 2700, code: "BM-04", gang: gangRowan, by: "clerk", day: 37, hour: 13,
			text: "lap short below the sills", photo: coat(imaging.FaultBareMesh, 300).big(),
			measured: reading("mesh_lap", "72", "mm", "BM", toolTape),
			turns: []turn{
				instructed(37, 16, "clerk", "strip the lap and patch with full laps while the coat is green"),
				offered(39, 10, "installer2", "patched over the lap", *coat(imaging.FaultBareMesh, 120)).with("88"),
				refused(39, 15, "88 mm is short of the 100 mm asked for; both sides of the patch must lap"),
				d.acknowledged(40, 9, "installer2", 41),
			},
		},
		{
			wall: hareSouth, x: 20600, z: 3100, code: "BM-01", gang: gangRowan, by: "clerk", day: 35, hour: 9,
			text: "coat thin along the scaffold boards", photo: coat(imaging.FaultBareMesh, 200),
			measured: reading("base_coat_depth_wet", "3.0", "mm", "BM", toolWetFilm),
			turns: []turn{
				instructed(35, 11, "clerk", "second coat within the window of the maker's sheet"),
				offered(35, 15.5, "installer2", "second coat wet on wet", *coat("", 0)).with("5.5"),
				closed(36, 10, defects.OnSite),
			},
		},
		{
			wall: larkSouth, x: 33400, z: 2900, code: "FX-05", gang: gangLarch, by: "operative", day: 17, hour: 9,
			text: "plate proud of the board", photo: boards("", 0),
			measured: reading("plate_level", "1.6", "mm", "FX", toolDepth),
			turns: []turn{
				instructed(17, 13, "clerk", "reset the anchor or set a second one beside it"),
				offered(18, 9, "installer", "anchor drawn, hole filled, new one set beside it", *boards("", 0)).with("-1.0"),
				closed(18, 14, defects.OnSite),
			},
		},
		{
			wall: larkEast, x: 3100, z: 1500, code: "CL-01", gang: gangLarch, by: "clerk", day: 43, hour: 14,
			text: "adhesive splashes on the glass below", photo: slips(imaging.FaultStain, 350),
			turns: []turn{
				instructed(43, 16, "clerk", "clean before it sets hard; trial on a corner first"),
				offered(44, 10, "installer", "cleaned by hand with the maker's remover", *slips("", 0)),
				closed(45, 9, defects.FromPhoto),
			},
		},
		{
			wall: larkWest, x: 4400, z: 900, code: "PN-04", gang: gangLarch, by: "clerk", day: 47, hour: 9,
			text: "outlet pipe passes through the slips without sleeve or seal", photo: slips(imaging.FaultChip, 60),
			turns: []turn{
				instructed(47, 12, "clerk", "sleeve and seal as the detail shows"),
				offered(51, 14, "installer", "sleeve set, tape and sealant round it", *slips("", 0)),
			},
		},
		{
			wall: larkNorth, x: 21000, z: 3600, code: "MJ-03", gang: gangLarch, by: "clerk", day: 48, hour: 10,
			text: "adhesive bridges the joint at mid height", photo: slips(imaging.FaultStain, 200),
			turns: []turn{
				instructed(48, 14, "clerk", "clear the joint out over its whole height"),
				offered(53, 10, "installer", "cleared and probed top to bottom", *slips("", 0)),
			},
		},
	}
}

// newLives wait for somebody's first answer.
func (d *demo) newLives() []life {
	return []life{
		{
			wall: larkSouth, x: 38100, z: 1900, code: "SL-12", gang: gangLarch, by: "operative", day: 53, hour: 15,
			text: "two corners knocked off by a scaffold tube", photo: slips(imaging.FaultChip, 70),
		},
		{
			wall: quillSouth, x: 8800, z: 4200, code: "IB-03", gang: gangRowan, by: "clerk", day: 53, hour: 10.5, extent: defects.Several,
			text: "open joints between boards round the stair window", photo: boards(imaging.FaultWideGap, 9).big(),
			measured: reading("board_gap", "4.1", "mm", "IB", toolTaper),
		},
		{
			wall: hareNorth, x: 6500, z: 3900, code: "OP-04", gang: gangRowan, by: "clerk", day: 54, hour: 9,
			text: "no drip at the head of the landing window", photo: coat("", 0),
		},
		{
			wall: hareEast, x: 4300, z: 2200, code: "BM-05", gang: gangRowan, by: "clerk", day: 54, hour: 11,
			text: "no diagonal patch seen at the lower corners", photo: coat(imaging.FaultCrack, 500),
			turns: []turn{instructed(54, 14, "clerk", "cut in patches before the coat hardens")},
		},
		{
			wall: quillSouth, x: 2500, z: 100, code: "BP-03", gang: gangRowan, by: "clerk", day: 16, hour: 14,
			text: "ground raised against the profile", photo: boards("", 0),
			measured: reading("base_profile_height", "121", "mm", "BP", toolTape),
			turns: []turn{
				instructed(16, 16, "manager", "lower the ground or fit the ground-zone detail, as the designer answers"),
				d.acknowledged(18, 9, "installer2", 30),
			},
		},
	}
}
