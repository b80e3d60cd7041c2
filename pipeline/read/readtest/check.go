package readtest

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"strings"

	"dynolake/schema"
)

// Bytes is a source over bytes in memory.
func Bytes(name string, data []byte) schema.Source {
	return schema.Source{Name: name, Size: int64(len(data)), Open: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(data)), nil }}
}

// Check reads bytes, good or not, and returns a broken promise: a batch that does not fit its group, a time or value that is
// infinite, a time that is NaN, a text that is empty or stands beside a number, a finding without code, text or source, an
// error that does not name the source. A panic is for the caller to see.
func Check(ctx context.Context, r schema.Reader, data []byte) error {
	fit := r.Probe(data[:min(len(data), 64<<10)])
	if fit.Score < 0 || fit.Score > 100 || fit.Why == "" {
		return fmt.Errorf("probe gives score %d and reason %q", fit.Score, fit.Why)
	}
	w := &watch{}
	err := r.Read(ctx, Bytes("log.csv", data), w)
	switch {
	case w.broken != nil:
		return w.broken
	case err != nil && !strings.Contains(err.Error(), "log.csv") && ctx.Err() == nil:
		return fmt.Errorf("error does not name the source: %w", err)
	case err == nil && w.rows == 0:
		return fmt.Errorf("neither rows nor an error")
	}
	return nil
}

// watch is a sink that holds nothing and checks everything.
type watch struct {
	groups []schema.Group
	rows   int
	peak   func() // Called once a batch.
	broken error
}

func (w *watch) fail(format string, args ...any) {
	if w.broken == nil {
		w.broken = fmt.Errorf(format, args...)
	}
}

func (w *watch) Group(g schema.Group) (int, error) {
	if len(g.Channels) == 0 {
		w.fail("group %q has no channels", g.Name)
	}
	w.groups = append(w.groups, g)
	return len(w.groups) - 1, nil
}

func (w *watch) Rows(group int, b schema.Batch) error {
	if w.peak != nil {
		w.peak()
	}
	if group < 0 || group >= len(w.groups) {
		w.fail("rows for group %d of %d", group, len(w.groups))
		return nil
	}
	if len(b.Values) != len(w.groups[group].Channels) || len(b.T) == 0 || len(b.T) > 4096 {
		w.fail("a batch of %d rows and %d channels for a group of %d", len(b.T), len(b.Values), len(w.groups[group].Channels))
		return nil
	}
	w.rows += len(b.T)
	w.numbers(b)
	w.texts(b)
	return nil
}

func (w *watch) numbers(b schema.Batch) {
	for _, t := range b.T {
		if math.IsNaN(t) || math.IsInf(t, 0) {
			w.fail("a time of %v", t)
		}
	}
	for _, v := range b.Values {
		if len(v) != len(b.T) {
			w.fail("%d values for %d times", len(v), len(b.T))
			continue
		}
		for _, x := range v {
			if math.IsInf(x, 0) {
				w.fail("a value of %v", x)
			}
		}
	}
}

func (w *watch) texts(b schema.Batch) {
	for _, t := range b.Texts {
		switch {
		case t.Row < 0 || t.Row >= len(b.T) || t.Channel < 0 || t.Channel >= len(b.Values):
			w.fail("a text at row %d of %d, channel %d of %d", t.Row, len(b.T), t.Channel, len(b.Values))
		case t.Text == "" || !math.IsNaN(b.Values[t.Channel][t.Row]):
			w.fail("text %q beside the number %v", t.Text, b.Values[t.Channel][t.Row])
		}
	}
}

func (w *watch) Restart() error {
	if w.rows == 0 {
		w.fail("a restart before any row")
	}
	return nil
}

func (w *watch) Note(string, string) {}

func (w *watch) Find(f schema.Finding) {
	if f.Code == "" || f.Text == "" || f.Source != "log.csv" || f.Severity == "" {
		w.fail("a finding without code, text, severity or source: %+v", f)
	}
}
