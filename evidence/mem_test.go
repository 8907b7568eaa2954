package evidence_test

import (
	"testing"

	"storeyrod/evidence"
	"storeyrod/evidence/evidencetest"
)

func TestMemKeepsTheContractOfOriginals(t *testing.T) {
	t.Parallel()
	evidencetest.Run(t, func(*testing.T) evidence.Store { return evidence.NewMem() })
}

func TestMemKeepsTheContractOfViewCopies(t *testing.T) {
	t.Parallel()
	evidencetest.RunDerived(t, func(*testing.T) evidence.DerivedStore { return evidence.NewMem() })
}

func TestMemKeepsTheContractOfParts(t *testing.T) {
	t.Parallel()
	evidencetest.RunParts(t, func(*testing.T) *evidence.Mem { return evidence.NewMem() })
}
