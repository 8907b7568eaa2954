package register

import (
	"strconv"
	"strings"

	"storeyrod/defects"
)

// SnagCursor is the place of a snag in an ordered list. ElevationID and Rank
// count in walking order only.
type SnagCursor struct {
	ElevationID string
	Rank        int64
	Number      int
}

// CursorOfSnag is the After of the page that follows s in ListSnags under the
// same order. It names the order, so that a cursor of one order is refused by
// the other.
func CursorOfSnag(order SnagOrder, s defects.Snag) string {
	number := strconv.FormatInt(int64(s.Number), 36)
	if order == ByWalk {
		return "w." + strconv.FormatInt(s.WalkRank, 36) + "." + number + "." + s.Place.ElevationID
	}
	return "n." + number
}

// ParseSnagCursor reads a cursor of a list of snags. The page goes on with the
// rows after it. A foreign text is refused with code bad_cursor.
func ParseSnagCursor(order SnagOrder, after string) (SnagCursor, error) {
	parts := strings.SplitN(after, ".", 4)
	if order == ByWalk {
		if len(parts) != 4 || parts[0] != "w" || len(parts[3]) > 100 {
			return SnagCursor{}, badCursor()
		}
		rank, rerr := strconv.ParseInt(parts[1], 36, 64)
		number, nerr := strconv.ParseInt(parts[2], 36, 32)
		if rerr != nil || nerr != nil || rank < 0 || number < 1 {
			return SnagCursor{}, badCursor()
		}
		return SnagCursor{ElevationID: parts[3], Rank: rank, Number: int(number)}, nil
	}
	if len(parts) != 2 || parts[0] != "n" {
		return SnagCursor{}, badCursor()
	}
	number, err := strconv.ParseInt(parts[1], 36, 32)
	if err != nil || number < 1 {
		return SnagCursor{}, badCursor()
	}
	return SnagCursor{Number: int(number)}, nil
}
