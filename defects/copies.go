package defects

import (
	"fmt"
	"math/bits"
	"strings"
)

// CopiesFailed precedes the code in Photo.Derived when no view copies could be
// made.
const CopiesFailed = "failed: "

// copiesReasons says in plain words why a photo has no view copies.
var copiesReasons = map[string]string{
	"damaged_file":     "the picture in the file is damaged or cut off",
	"no_decoder":       "this kind of picture cannot be shown here",
	"unsupported_type": "this kind of file cannot be shown here",
	"too_many_pixels":  "the picture has more pixels than is taken",
	"too_many_bytes":   "the file is larger than is taken",
	"original_missing": "the original is not in the store",
	"original_damaged": "the original in the store is not what was received",
	"store_full":       "there was no room left to keep them",
	"store_denied":     "the program was not allowed to write them",
	"machine_fault":    "something failed on the server that has nothing to do with the photo; its log tells more",
	"process_died":     "the program ended each time it tried",
}

// CopiesReason is why a photo has no view copies, in plain words; "" while they
// are not failed.
func (p Photo) CopiesReason() string {
	code, failed := strings.CutPrefix(p.Derived, CopiesFailed)
	if !failed {
		return ""
	}
	return CopiesFault(code)
}

// CopiesFault puts the code of a fault into plain words.
func CopiesFault(code string) string {
	if words, ok := copiesReasons[code]; ok {
		return words
	}
	return strings.ReplaceAll(code, "_", " ")
}

// PossiblySame is how many of the 64 bits of two likenesses may differ in what
// is possibly the same picture. Measured on rendered walls and re-encoded
// photos: the same photo saved again differs in up to 4, brightened in up to 8,
// cropped by a fiftieth in up to 10; two brick walls in 20 and more; but a second
// photo from the same spot from 6. So a person decides, never the program.
const PossiblySame = 10

// LikenessBits counts the bits in which two likenesses differ, 0 to 64.
func LikenessBits(a, b uint64) int { return bits.OnesCount64(a ^ b) }

// AlikeEvidence is a photo of an offer that is possibly the same picture as
// another one. It is shown to who accepts and refuses nothing by itself: an
// honest photo from the same spot, or of the next window, can be as near.
type AlikeEvidence struct {
	PhotoID string // of the offer
	OtherID string
	Bits    int
	Before  bool  // the other is of the same snag, from before the making good
	UsedBy  []int // numbers of other snags that the other is evidence for
}

// Text says what was seen and what to do about it.
func (a AlikeEvidence) Text() string {
	other := "an earlier photo of this snag"
	if !a.Before {
		refs := make([]string, len(a.UsedBy))
		for i, n := range a.UsedBy {
			refs[i] = SnagRef(n)
		}
		other = "a photo that is evidence for " + strings.Join(refs, ", ")
	}
	return fmt.Sprintf("possibly the same picture as %s (%d of 64 bits differ), or a new one from the same spot; compare the two before you accept", other, a.Bits)
}
