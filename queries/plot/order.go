package plot

import (
	"context"
	"fmt"

	"dynolake/queries/engine"
)

// Times asks the lake in which order calibrations were first run, and which duty each platform has.
func (o *Options) Times(ctx context.Context, s engine.Asker) error {
	rows, err := s.Query(ctx, `SELECT coalesce(vehicle, ''), coalesce(calibration, ''), coalesce(platform, ''), coalesce(max(duty), '')
		FROM runs GROUP BY vehicle, calibration, platform ORDER BY min(started_at) NULLS FIRST, vehicle, calibration, platform`)
	if err != nil {
		return fmt.Errorf("ask for the order of calibrations: %w", err)
	}
	all, err := rows.All()
	if err != nil {
		return fmt.Errorf("ask for the order of calibrations: %w", err)
	}
	o.Order, o.Duty = map[Tested]int{}, map[string]string{}
	for i, r := range all {
		o.Order[Tested{r[0].(string), r[1].(string)}] = i + 1
		o.Duty[r[2].(string)] = r[3].(string)
	}
	return nil
}
