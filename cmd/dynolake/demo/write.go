package demo

import (
	"context"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"time"
)

// Write makes the model's folder: README.txt, config and logs. It stops between two runs when ctx ends; what is there by then
// is left behind, and a second call overwrites it.
func (m Model) Write(ctx context.Context, dir string) (Truth, error) {
	w := newWriter(m, dir, m.plans())
	if err := w.config(); err != nil {
		return Truth{}, err
	}
	if err := w.all(ctx, w.run); err != nil {
		return Truth{}, err
	}
	return w.tally.truth(), nil
}

// WriteConfig makes the folder's README.txt and config alone, with every vehicle of the model's repeats.
func (m Model) WriteConfig(dir string) error { return newWriter(m, dir, nil).config() }

func (w *writer) config() error {
	for _, f := range [][2]string{
		{"README.txt", w.model.readme()}, {"config/vehicles.yaml", vehiclesYAML(w.model.vehicles())}, {"config/dynos.yaml", dynosYAML()}, {"config/limits.yaml", limitsYAML()},
	} {
		if err := w.save(f[0], []byte(f[1])); err != nil {
			return err
		}
	}
	return nil
}

// WriteRepeat makes the folder logs of the visits' n-th repeat alone, 0 being the demo's own: a world of many visits comes
// out of it piece by piece, in little memory and on little disk. Repeats from the model's scale on are the demo's own six vehicles'.
// It stops between two runs when ctx ends.
func (m Model) WriteRepeat(ctx context.Context, dir string, n int) error {
	w := newWriter(m, dir, m.repeats(n, n+1))
	return w.all(ctx, func(p plan) error {
		_, err := w.logs(p)
		return err
	})
}

// all writes every plan's logs and what belongs beside them.
func (w *writer) all(ctx context.Context, run func(plan) error) error {
	for _, p := range w.plans {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("write demo logs: %w", err)
		}
		if err := run(p); err != nil {
			return err
		}
	}
	if err := w.sheets(); err != nil {
		return err
	}
	return w.databases()
}

// databases puts the bus's description beside the logs of each vehicle whose bus is logged.
func (w *writer) databases() error {
	folders := map[string]bool{}
	for _, p := range w.plans {
		if p.v.like == "invented-truck-e" {
			folders[path.Join("logs", p.v.id)] = true
		}
	}
	text := []byte(database(truckBusChannels()))
	for folder := range folders {
		if err := w.save(path.Join(folder, "invented-cell.dbc"), text); err != nil {
			return err
		}
	}
	return nil
}

func newWriter(m Model, dir string, plans []plan) *writer {
	w := &writer{
		model: m, dir: dir, tally: newTally(m), plans: plans,
		entries: map[string][]entry{}, first: map[string]plan{}, next: map[string]plan{},
	}
	for _, p := range plans {
		w.first[p.name()] = p
		if p.part > 0 {
			w.next[p.of] = p
		}
	}
	return w
}

// writer is the state of one Write.
type writer struct {
	model   Model
	dir     string
	plans   []plan
	tally   *tally
	entries map[string][]entry
	first   map[string]plan // By name.
	next    map[string]plan // The part that follows in the same file, by the first's name.
	rows    []row
	exact   []row
}

func (w *writer) save(name string, data []byte) error {
	to := filepath.Join(w.dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
		return fmt.Errorf("make demo folder: %w", err)
	}
	if err := os.WriteFile(to, data, 0o666); err != nil {
		return fmt.Errorf("write demo file: %w", err)
	}
	return nil
}

// run drives a plan twice, once exactly for the truth and once as it was logged, and writes its files.
func (w *writer) run(p plan) error {
	done := make(chan *trace, 1)
	go func() { done <- w.model.run(p, true, w.exact) }()
	truth, err := w.logs(p)
	tr := <-done
	w.exact = tr.rows
	w.tally.add(p, tr, truth)
	return err
}

// logs writes a plan's files, unless they are part of the file of the run before, and tells of them.
func (w *writer) logs(p plan) (RunTruth, error) {
	origin := p
	if p.part > 0 {
		origin = w.first[p.of]
	}
	base := fmt.Sprintf("%s_%s", p.v.id, origin.start.Format("20060102-1504"))
	truth := RunTruth{Folder: path.Join("logs", p.v.id)}
	recorders := w.model.recorders(origin)
	e := entry{plan: p}
	for _, r := range recorders {
		name := base + r.suffix + r.ending
		truth.Files = append(truth.Files, FileTruth{name, r.offset()})
		truth.Dialects = append(truth.Dialects, "form "+r.form)
		if r.delimited() {
			truth.Dialects = append(truth.Dialects, r.words()...)
		}
		if packed := path.Ext(name); packed == ".gz" || packed == ".zst" || packed == ".zip" {
			truth.Dialects = append(truth.Dialects, "packed "+packed)
		}
		e.files, e.stamp = append(e.files, name), e.stamp || r.clock == "stamp"
	}
	if p.part > 0 {
		truth.Dialects = append(truth.Dialects, "restart")
	}
	if len(recorders) > 1 {
		truth.Dialects = append(truth.Dialects, "several recorders")
	}
	slices.Sort(truth.Dialects)
	truth.Dialects = slices.Compact(truth.Dialects)
	if p.part > 0 {
		return truth, nil
	}
	w.entries[truth.Folder] = append(w.entries[truth.Folder], e)
	traces := w.traces(p)
	for i, r := range recorders {
		// The clock's zero is where its reading counts from, so that stamps read the true time.
		data, err := r.write(w.model, p.name(), traces, p.start.Add(-time.Duration(r.offset()*float64(time.Second))))
		if err == nil {
			data, err = pack(e.files[i], data)
		}
		if err != nil {
			return truth, fmt.Errorf("encode %s: %w", e.files[i], err)
		}
		if err := w.save(path.Join(truth.Folder, e.files[i]), data); err != nil {
			return truth, err
		}
	}
	return truth, nil
}

// traces drives a plan, and the ones that its recorder kept in the same file, as they were logged.
func (w *writer) traces(p plan) []*trace {
	out := []*trace{w.model.run(p, false, w.rows)}
	w.rows = out[0].rows
	if next, ok := w.next[p.name()]; ok {
		out = append(out, w.model.run(next, false, nil))
	}
	return out
}

// sheets writes a runs.csv a folder; one shop keeps a sheet beside each log instead.
func (w *writer) sheets() error {
	for folder, entries := range w.entries {
		if entries[0].plan.v.like == "invented-van-d" {
			for _, e := range entries {
				name := e.files[0][:len(e.files[0])-len(path.Ext(e.files[0]))] + ".run.yaml"
				if err := w.save(path.Join(folder, name), []byte(e.runYAML())); err != nil {
					return err
				}
			}
			continue
		}
		text, err := runsCSV(entries)
		if err != nil {
			return err
		}
		if err := w.save(path.Join(folder, "runs.csv"), []byte(text)); err != nil {
			return err
		}
	}
	return nil
}
