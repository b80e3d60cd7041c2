package night

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"

	"dynolake/queries/engine"
	"dynolake/queries/tables"
)

// shares tells by vehicle what stands for its runs and for its entry.
func (w *Work) shares(ctx context.Context) (tables.Shares, error) {
	runs, err := w.runMarks(ctx)
	if err != nil {
		return nil, fmt.Errorf("list the vehicles' runs: %w", err)
	}
	entries := map[string]string{}
	for _, v := range w.Inputs.Vehicles {
		sum := sha256.Sum256(fmt.Appendf(nil, "%#v", v))
		entries[v.ID] = hex.EncodeToString(sum[:8])
	}
	for v, mark := range runs {
		runs[v] = mark + " " + entries[v]
	}
	return runs, nil
}

// runMarks gives the first part of each share. It asks the lake only where there are other runs than the last time.
func (w *Work) runMarks(ctx context.Context) (tables.Shares, error) {
	marks := tables.Shares{}
	if w.Was.Data == w.Now.Data && w.Was.Format > 0 && w.Was.Shares != nil {
		for v, share := range w.Was.Shares {
			marks[v], _, _ = strings.Cut(share, " ")
		}
		return marks, nil
	}
	of := map[string]map[string]string{}
	err := w.with(ctx, func(s *engine.Session) error {
		rows, err := s.Query(ctx, `SELECT run_id, vehicle FROM runs`)
		if err != nil {
			return err
		}
		for rows.Next() {
			id, _ := rows.Row()[0].(string)
			vehicle, _ := rows.Row()[1].(string)
			if of[vehicle] == nil {
				of[vehicle] = map[string]string{}
			}
			of[vehicle][id] = w.Now.Runs[id]
		}
		return errors.Join(rows.Err(), rows.Close())
	})
	for v, runs := range of {
		marks[v] = digest(runs)
	}
	return marks, err
}
