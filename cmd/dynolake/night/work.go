package night

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"dynolake/pipeline/lake"
	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/queries/tables"
)

// Work is one night's: what comes after the inbox.
type Work struct {
	Lake    *lake.Lake
	Packs   *packs.Set
	Inputs  tables.Inputs // Without the snapshot.
	Was     State
	Now     State
	Written tables.Result

	// Open starts a session over Now's snapshot, of these vehicles alone where they are not nil, with so many times the usual memory.
	Open func(ctx context.Context, vehicles []string, times int64) (*engine.Session, error)
}

// Tables brings the tables up to date, and with them Now.
func (w *Work) Tables(ctx context.Context) error {
	runs, err := w.Lake.Fingerprints(ctx)
	if err != nil {
		return err
	}
	w.Now = State{Snapshot: w.Inputs.Snapshot.ID, Runs: runs, Verdicts: w.Was.Verdicts, Passed: w.Was.Passed, Config: w.Was.Config}
	w.Now.Data = digest(w.Now.Runs)
	if w.Now.Shares, err = w.shares(ctx); err != nil {
		return err
	}
	queries, err := w.queries()
	if err != nil {
		return err
	}
	job := tables.Job{Inputs: w.Inputs, Root: w.Lake.Root(), Data: w.Now.Data, Queries: queries, Shares: w.Now.Shares, Was: w.Was.Shares, Open: w.Open, Disk: w.Lake.Disk()}
	if w.Written, err = tables.Write(ctx, job, w.Was.Tables); err != nil {
		return err
	}
	w.Now.Tables = w.Written.Books
	return w.outcome()
}

// outcome reads from the tables what they say of comparisons and limits.
func (w *Work) outcome() error {
	w.Now.Verdicts, w.Now.Passed = map[string]string{}, map[string]Passed{}
	for name, book := range w.Written.Books {
		rows, err := w.verdictRows(name, book)
		if err != nil {
			return err
		}
		maps.Copy(w.Now.Verdicts, rows)
		if strings.HasPrefix(book.Query, "limits/") {
			list, err := readTable(w.Lake.Root(), name)
			if err != nil {
				return err
			}
			maps.Copy(w.Now.Passed, passed(list))
		}
	}
	return nil
}

func (w *Work) verdictRows(name string, book tables.Book) (map[string]string, error) {
	if book.Query != deltaQuery || book.Part != "" {
		return nil, nil
	}
	rows, err := readTable(w.Lake.Root(), name)
	return verdicts(rows), err
}

// digest stands for the runs, whatever the order of their ingest.
func digest(runs map[string]string) string {
	h := sha256.New()
	for _, id := range slices.Sorted(maps.Keys(runs)) {
		_, _ = fmt.Fprintln(h, id, runs[id]) // A hash takes every write.
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// latest is the part of a comparison that its defaults ask for: each vehicle's latest calibration against the one before.
const latest = "latest"

// queries lists what is asked for the tables: every query by its defaults, and of comparisons first that of each calibration with the one before.
func (w *Work) queries() ([]tables.Query, error) {
	var list []tables.Query
	for _, p := range w.Packs.All() {
		if compares(p) {
			q, err := deltas(p)
			if err != nil {
				return nil, err
			}
			list = append(list, q)
		}
		statement, err := p.SQL(nil)
		if err != nil {
			return nil, fmt.Errorf("read query %s: %w", p.Name, err)
		}
		q := tables.Query{Pack: p, Statement: statement, Apart: p.Apart}
		if compares(p) {
			q.Part = latest
		}
		list = append(list, q)
	}
	return list, nil
}

// with runs do in a session over the snapshot.
func (w *Work) with(ctx context.Context, do func(*engine.Session) error) error {
	s, err := w.Open(ctx, nil, 1)
	if err != nil {
		return err
	}
	return errors.Join(do(s), s.Close())
}
