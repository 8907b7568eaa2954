package register

import (
	"context"

	"storeyrod/defects"
)

// NewInstrument is what an instrument is made from.
type NewInstrument struct {
	Name       string
	Kind       string
	Serial     string
	Unit       string
	Resolution *defects.Decimal // nil = unknown
	Expanded   *defects.Decimal // U (k = 2); nil = unknown
}

func (r *Register) AddInstrument(ctx context.Context, a Actor, siteID string, n NewInstrument) (defects.Instrument, error) {
	return defects.Instrument{}, errUnfinished
}
func (r *Register) AddCalibration(ctx context.Context, a Actor, siteID, instrumentID string, version int, c defects.Calibration) (defects.Instrument, error) {
	return defects.Instrument{}, errUnfinished
}
func (r *Register) Instruments(ctx context.Context, a Actor, siteID string) ([]defects.Instrument, error) {
	return nil, errUnfinished
}
