package cli

import (
	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/imaging"
)

// criticalLives need a competent second person.
func (d *demo) criticalLives() []life {
	return []life{
		{
			wall: hareSouth, x: 5400, z: 2750, code: "FB-01", gang: gangRowan, by: "clerk", day: 27, hour: 10,
			text: "no barrier at the floor line between two windows; ordinary board fitted instead", photo: boards(imaging.FaultWideGap, 12).big(),
			turns: []turn{
				instructed(27, 10.5, "clerk", "stop work here; open up and fit the barrier as drawn"), d.acknowledged(27, 13, "installer2", 28),
				offered(52, 10, "installer2", "opened up over three metres, barrier fitted with its own anchors, board closed", *boards("", 0)),
				closed(53, 9.5, defects.OnSite),
			},
		},
		{
			wall: larkNorth, x: 13300, z: 2800, code: "FB-02", gang: gangLarch, by: "clerk", day: 13, hour: 9,
			text: "bracket of an old downpipe left through the barrier", photo: boards(imaging.FaultNoAnchor, 0),
			turns: []turn{
				instructed(13, 9.5, "clerk", "take the bracket out and close with the barrier's own material"),
				offered(14, 11, "installer", "bracket cut out, barrier piece fitted tight and fixed", *boards("", 0)),
				closed(14, 15, defects.OnSite),
				countersigned(15, 10, "invented fire designer's note LC-F-07: continuity restored"),
			},
		},
		{
			wall: larkWest, x: 900, z: 3600, code: "FX-02", gang: gangLarch, by: "clerk", day: 16, hour: 11,
			text: "field pattern carried on to the corner", photo: boards(imaging.FaultNoAnchor, 0), measured: edgeDensity("6.0"),
			turns: []turn{
				instructed(16, 11.5, "clerk", "add anchors to the edge pattern of the fixing drawing"),
				offered(16, 15.5, "installer", "two anchors added per square metre over the edge zone", *boards("", 0)).with("8.5"),
				closed(17, 9.5, defects.OnSite),
				countersigned(17, 15, "invented structural designer's note LC-S-03: edge pattern as drawing 12C"),
			},
		},
		{
			wall: larkSouth, x: 22500, z: 3900, code: "SL-01", gang: gangLarch, by: "clerk", day: 52, hour: 15, extent: defects.Pattern,
			text: "ribs not collapsed on a lifted slip; adhesive had a skin", photo: slips(imaging.FaultChip, 120),
			measured: reading("adhesive_contact_slip", "71", "%", "SL", ""),
			turns: []turn{
				instructed(52, 15.5, "clerk", "keep people away below; lift more slips round it, then as the designer answers"),
				d.acknowledged(53, 8.5, "installer", 54),
			},
		},
	}
}

// disputedLives met an installer who does not agree.
func (d *demo) disputedLives() []life {
	return []life{
		{
			wall: larkSouth, x: 9500, z: 900, opening: "W06", code: "OP-01", gang: gangLarch, by: "clerk", day: 50, hour: 11,
			text: "sill ends just past the face", photo: slips("", 0), measured: reading("sill_overhang", "19", "mm", "OP", toolTape),
			turns: []turn{
				instructed(50, 14, "clerk", "over-sill with upstand ends"),
				disputed(51, 9, "installer", defects.ByDesign, "the sill is the one on the window schedule"),
			},
		},
		{
			wall: larkWest, x: 6700, z: 2500, code: "AB-01", gang: gangLarch, by: "clerk", day: 39, hour: 10,
			text: "sealant thin and bonded on three sides", photo: slips(imaging.FaultCrack, 600),
			measured: reading("sealant_depth", "3.6", "mm", "AB", toolDepth),
			turns: []turn{
				instructed(39, 14, "clerk", "cut out, backer, primer, reseal"),
				disputed(40, 9, "installer", defects.MeasuredWrongly, "probe pushed in at an angle"),
				decided(42, 11, true, "measured again together at three points: 3.5 to 3.8 mm. The defect stands."),
				d.acknowledged(43, 9, "installer", 54),
			},
		},
		{
			wall: larkSouth, x: 18200, z: 2400, code: "TB-01", gang: gangLarch, by: "clerk", day: 45, hour: 14,
			text: "joints look deeper than on the sample", photo: slips("", 0), measured: recess("3.8"),
			turns: []turn{
				instructed(45, 16, "clerk", "repoint to the sample"),
				disputed(46, 9, "installer", defects.ByDesign, "the sample was renewed with a deeper joint"),
				decided(48, 15, false, "the panel of revision C has a 4 mm recess; the reading was held against the old one. The defect falls."),
			},
		},
	}
}

func edgeDensity(value string) *register.ReadingInput {
	in := reading("fixing_density", value, "1/m2", "FX", "")
	in.Zone, in.Expanded = string(defects.Edge), "0.2"
	return in
}

func recess(value string) *register.ReadingInput {
	in := reading("joint_recess", value, "mm", "TB", toolDepth)
	in.Nominal = "2"
	return in
}

// settledLives were kept as built or put off.
func (d *demo) settledLives() []life {
	return []life{
		{
			wall: larkEast, x: 8700, z: 2600, code: "CR-01", gang: gangLarch, by: "clerk", day: 24, hour: 10,
			text: "corner leans out over the upper storey", photo: coat("", 0),
			measured: readingOver("plumb", "14", "mm", "BM", toolPlumb, "2.5"),
			turns: []turn{
				instructed(24, 15, "clerk", "re-form the arris before the slips"),
				asked(25, 9, "installer", "2.5 m run of the arris, upper storey", "14", "the old wall leans by as much; a straight arris would taper the corner slips"),
				granted(26, 11, "designer", "joints at the corner kept within 7 to 13 mm; reading repeated after the slips"),
				granted(27, 15, "owner", ""),
			},
		},
		{
			wall: larkNorth, x: 30500, z: 1700, code: "SL-09", gang: gangLarch, by: "clerk", day: 50, hour: 9,
			text: "four courses gain on the gauge rod", photo: slips(imaging.FaultWideGap, 13), measured: fourCourses("306"),
			turns: []turn{
				instructed(50, 12, "clerk", "reset to the gauge rod from the head down"),
				asked(52, 9, "installer", "four courses between W03 and W04", "306", "the gain runs out at the head and is not seen from the path"),
				granted(53, 16, "designer", "no further gain; courses above start from the rod"),
			},
		},
		{
			wall: larkWest, x: 5200, z: 1700, code: "SL-11", gang: gangLarch, by: "clerk", day: 47, hour: 11,
			text: "band of darker slips, seen in low sun", photo: slips(imaging.FaultStain, 900),
			turns: []turn{{who: "manager", day: 48, hour: 10, req: register.StepRequest{
				Step: defects.StepDefer, Due: d.calendar.date(75), Access: "from the ground and a tower",
				Text: "to be judged again from the agreed distance after a season's weather; nothing is covered by waiting",
			}}},
		},
		{
			wall: larkEast, x: 5600, z: 1200, code: "PN-06", gang: gangLarch, by: "clerk", day: 46, hour: 15,
			text: "tie holes of the lower lift open", photo: slips(imaging.FaultChip, 40),
			turns: []turn{
				instructed(46, 16, "clerk", "plug, mesh and match each"),
				{who: "manager", day: 47, hour: 10, req: register.StepRequest{
					Step: defects.StepDefer, Event: "strike of the lower lift", Access: "from the lower lift while it is struck",
					Text: "the ties are needed until then; holes are sheeted against rain",
				}},
			},
		},
	}
}

// returnedLives were taken back, or came again after the close.
func (d *demo) returnedLives() []life {
	return []life{
		{
			wall: larkSouth, x: 12300, z: 4700, code: "SL-07", gang: gangLarch, by: "clerk", day: 33, hour: 9,
			text: "perpend looks tight", photo: slips("", 0), measured: reading("joint_width_perpend", "5.9", "mm", "SL", toolCalliper),
			turns: []turn{withdrawn(33, 13, "clerk", "measured at a cut slip beside the reveal, where the drawing has no perpend")},
		},
		{
			wall: larkSouth, x: 35900, z: 4100, code: "PT-06", gang: gangLarch, by: "clerk", day: 44, hour: 9,
			text: "white bloom below the eaves", photo: slips(imaging.FaultStain, 700),
			turns: []turn{
				instructed(44, 13, "clerk", "dry brush, then wait"),
				offered(46, 10, "installer", "brushed dry, sheeting moved to keep the rain off", *slips("", 0)),
				closed(47, 9, defects.FromPhoto),
				reopened(54, 10, "bloom is back after two wet days; look for the way the water takes", *slips(imaging.FaultStain, 800)),
			},
		},
		{
			wall: larkWest, x: 2600, z: 4500, code: "SL-08", severity: defects.Minor, gang: gangLarch, by: "clerk", day: 38, hour: 11,
			text: "perpends wander over five courses", photo: slips("", 0), measured: readingOver("plumb", "17", "mm", "SL", toolPlumb, "2.5"),
			turns: []turn{
				instructed(38, 15, "clerk", "relay to the plumb line"),
				offered(41, 10, "installer", "five courses relaid to a line", *slips("", 0)).with("2"),
				closed(41, 15, defects.OnSite),
				reopened(51, 9, "the same five courses have slipped before the adhesive held", *slips(imaging.FaultCrack, 500)),
				instructed(51, 13, "clerk", "take off, look at the bed, relay"),
			},
		},
	}
}

func fourCourses(value string) *register.ReadingInput {
	in := reading("course_gauge", value, "mm", "SL", toolTape)
	in.Courses = 4
	return in
}
