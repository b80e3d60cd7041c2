package publish

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"dynolake/pipeline/lake"
	"dynolake/pipeline/publish/iceberg"
	"dynolake/pipeline/publish/store"
	"dynolake/schema"
)

const currentName = "current.json"

// current is the pointer of Iceberg tables: metadata files of one snapshot of the lake.
type current struct {
	Snapshot int64             `json:"snapshot"`
	Name     string            `json:"name"`
	Tables   map[string]string `json:"tables"` // Each table's metadata file.
}

// tableWork is one Iceberg table with what is to become of it.
type tableWork struct {
	*iceberg.Table
	def    schema.Table
	want   []piece
	add    []piece
	gone   []string
	change iceberg.Change
	taken  []string
}

// iceberg publishes Iceberg tables. The published state is read before the lake's, which so is never the older one.
func (p *publication) iceberg(ctx context.Context, l *lake.Lake) (Report, error) {
	var work []*tableWork
	for _, def := range order() {
		t, err := iceberg.Open(ctx, p.store, def, p.location+"/"+def.Name)
		if err != nil {
			return Report{}, err
		}
		work = append(work, &tableWork{Table: t, def: def})
	}
	s, err := l.State(ctx)
	if err != nil {
		return Report{}, err
	}
	for _, w := range work {
		id, name := w.Lake()
		if err := of(s, id, name); err != nil {
			return Report{}, err
		}
		w.want = pieces(w.def.Name, w.def.Name+"/data", s.Tables[w.def.Name])
		w.add, w.gone = difference(w.want, w.Live())
		p.total += len(w.add)
	}
	for _, w := range work {
		if err := p.fill(ctx, s, w); err != nil {
			return Report{}, err
		}
	}
	return p.commit(ctx, s, work)
}

// fill stores the data files of a table.
func (p *publication) fill(ctx context.Context, s lake.State, w *tableWork) error {
	facts := make(map[string]*iceberg.File, len(w.add))
	for _, a := range w.add {
		facts[a.name] = &iceberg.File{Name: a.name, Month: a.month, Rows: a.rows}
	}
	list, err := p.move(ctx, s, w.add, func(m *moved) (err error) {
		f := facts[m.name]
		f.Bytes = m.bytes
		if f.Facts, err = iceberg.ReadFacts(m.local); err == nil && w.def.Name == "runs" {
			f.Sorted, err = iceberg.Sorted(ctx, m.local)
		}
		return err
	})
	if err != nil {
		return err
	}
	w.change = iceberg.Change{Lake: s.ID, Name: s.Name, Remove: w.gone, At: p.options.Now(), Keep: p.options.Keep}
	for _, m := range list {
		w.change.Add = append(w.change.Add, *facts[m.name])
		if m.taken {
			w.taken = append(w.taken, m.name)
		}
	}
	return nil
}

// commit makes the tables visible one after the other, then all of them together, and clears what is over.
func (p *publication) commit(ctx context.Context, s lake.State, work []*tableWork) (Report, error) {
	r := Report{Snapshot: s.ID, URI: p.location}
	point := current{Snapshot: s.ID, Name: s.Name, Tables: map[string]string{}}
	for _, w := range work {
		if err := still(ctx, p.store, w.taken); err != nil {
			return r, err
		}
	}
	for _, w := range work {
		if err := w.Commit(ctx, w.change); err != nil {
			return r, err
		}
		if err := w.Settle(ctx); err != nil { // After a kill between a commit and its hint.
			return r, err
		}
		point.Tables[w.def.Name] = w.Pointer()
		r.Tables = append(r.Tables, w.report(point.Tables[w.def.Name]))
	}
	if err := p.point(ctx, currentName, point); err != nil || !r.New() {
		return r, err
	}
	now, err := p.now(ctx)
	if err != nil {
		return r, err
	}
	for _, w := range work {
		if _, err := w.Sweep(ctx, now.Add(-max(p.options.Keep, time.Hour))); err != nil {
			return r, err
		}
	}
	return r, nil
}

// now is the time to reckon the age of stored files by. Where nobody else can be writing it is ours. In a bucket it is the
// store's own, which dated the pointer a moment ago: by a clock of ours that runs ahead, what another publisher has just
// stored would look old enough to go.
func (p *publication) now(ctx context.Context) (time.Time, error) {
	if _, locked := p.store.(locker); locked {
		return p.options.Now(), nil
	}
	info, err := p.store.Stat(ctx, currentName)
	return info.At, err
}

// report counts what a table holds and what was moved.
func (w *tableWork) report(pointer string) Moved {
	m := Moved{Table: w.def.Name, Files: int64(len(w.want)), Added: int64(len(w.add)), Gone: int64(len(w.gone)), Pointer: pointer}
	have := w.Live()
	for _, f := range w.change.Add {
		have[f.Name] = iceberg.Size{Rows: f.Rows, Bytes: f.Bytes}
		m.Copied += f.Bytes
	}
	for _, name := range w.taken {
		m.Copied -= have[name].Bytes
	}
	for _, piece := range w.want {
		m.Rows += have[piece.name].Rows
		m.Bytes += have[piece.name].Bytes
	}
	return m
}

// point replaces a pointer unless it says the same.
func (p *publication) point(ctx context.Context, name string, v any) error {
	text, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		return err
	}
	if old, err := p.store.Read(ctx, name); err == nil && string(old) == string(text) {
		return nil
	}
	if err := store.PutBytes(ctx, p.store, name, text); err != nil {
		return fmt.Errorf("point to the new snapshot: %w", err)
	}
	return nil
}
