package report

import "strings"

// SurveyStyle is how a survey's drawing looks where it stands by itself, without
// the pages' style sheet. An answer that carries it allows it by its hash.
const SurveyStyle = `text{font-family:sans-serif;fill:#16181a}` +
	`line,path,circle,rect{vector-effect:non-scaling-stroke}` +
	`.survey-face,.rod rect{fill:#fff}.rod rect,.rod path{stroke:#16181a;stroke-width:1px;fill-opacity:1}.rod path{fill:none}` +
	`.wall-bay,.wall-lift{stroke:#54585c;stroke-width:1px;stroke-dasharray:7 4}` +
	`.wall-opening rect{fill:#dfe9ef;stroke:#16181a;stroke-width:1.5px}.wall-opening path{fill:none;stroke:#16181a;stroke-width:1px}` +
	`.wall-outline{fill:none;stroke:#16181a;stroke-width:2.5px}.wall-base{stroke:#16181a;stroke-width:3px}.wall-ground{stroke:#54585c;stroke-width:2px;stroke-dasharray:6 4}` +
	`.survey-point{fill:none;stroke:#54585c;stroke-width:1px}` +
	`.contour{fill:none;stroke:#0072b2;stroke-width:1.5px}.contour-behind{stroke:#b34700;stroke-dasharray:6 4}.contour-zero{stroke:#16181a;stroke-width:3px}` +
	`.survey-gap path{fill:none;stroke:#16181a;stroke-width:5px}.survey-gap circle{fill:none;stroke:#16181a;stroke-width:2.5px}` +
	`.survey-plumb path{fill:none;stroke:#16181a;stroke-width:1.5px}.survey-plumb .survey-bob{fill:#16181a}` +
	`.survey-plate{fill:#fff;fill-opacity:.9}.survey-word{font-weight:700}`

// Standalone makes a file of a survey's drawing.
func Standalone(svg string) string {
	head, rest, _ := strings.Cut(svg, ">")
	return head + "><style>" + SurveyStyle + "</style>" + rest
}
