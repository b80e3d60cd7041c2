package read_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"dynolake/pipeline/read"
	"dynolake/schema"
)

func source(data string) schema.Source {
	return schema.Source{Name: "log.csv", Size: int64(len(data)), Open: func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(data)), nil }}
}

func TestDetect(t *testing.T) {
	r, err := read.Detect(context.Background(), source("Time [s],RPM\n0.0,800\n0.1,801\n"))
	if err != nil || r.Form() != "delimited" {
		t.Fatalf("%v, %v", r, err)
	}
	for data, looks := range map[string]string{
		"":                                 "an empty file",
		"PK\x03\x04\x14\x00\x06\x00":       "a zip archive",
		"\x1f\x8b\x08\x00\x00":             "a gzip file",
		"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0": "a PDF document",
		"\x89PNG\r\n\x1a\n\x00\x00":        "a PNG picture",
		"\x89HDF\r\n\x1a\n\x00\x00":        "an HDF5 file",
		"MDF     4.10    \x00\x00\x00":     "an MDF measurement file",
		"SQLite format 3\x00\x10\x00":      "an SQLite database",
		strings.Repeat("\x00", 5000):       "a file of NUL bytes alone",
		"<!DOCTYPE html>\n<html></html>\n": "an HTML page",
		"{\"a\": 1}\n":                     "a JSON document",
	} {
		_, err := read.Detect(context.Background(), source(data))
		var none *read.NoFormError
		if !errors.As(err, &none) {
			t.Errorf("%.20q: %v, want a NoFormError", data, err)
			continue
		}
		if !strings.HasPrefix(none.Looks, looks) || len(none.Reasons) != len(read.Forms()) || !strings.Contains(err.Error(), looks) || !strings.HasPrefix(err.Error(), "log.csv: ") {
			t.Errorf("%.20q: %v; want it to look like %s", data, err, looks)
		}
		for _, reason := range none.Reasons {
			if reason.Form == "" || reason.Why == "" {
				t.Errorf("%.20q: a reason is empty: %+v", data, reason)
			}
		}
	}
}

func TestDetectPassesErrorsOn(t *testing.T) {
	gone := errors.New("gone")
	if _, err := read.Detect(context.Background(), schema.Source{Name: "x", Open: func() (io.ReadCloser, error) { return nil, gone }}); !errors.Is(err, gone) {
		t.Errorf("got %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := read.Detect(ctx, source("Time,RPM\n0,1\n")); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

func TestByForm(t *testing.T) {
	for _, r := range read.Forms() {
		if got, ok := read.ByForm(r.Form()); !ok || got.Form() != r.Form() {
			t.Errorf("form %q is not found", r.Form())
		}
	}
	if _, ok := read.ByForm("nothing"); ok {
		t.Error("a form that is none was found")
	}
}

// script is a reader that plays what a test tells it.
type script func(schema.Sink) error

func (script) Form() string                                                      { return "script" }
func (script) Probe([]byte) schema.Fit                                           { return schema.Fit{Why: "never"} }
func (s script) Read(_ context.Context, _ schema.Source, sink schema.Sink) error { return s(sink) }

func TestCollect(t *testing.T) {
	batch := schema.Batch{T: []float64{0, 1}, Values: [][]float64{{5, math.NaN()}}, Texts: []schema.Text{{Row: 1, Channel: 0, Text: "ON"}}}
	logs, err := read.Collect(context.Background(), script(func(s schema.Sink) error {
		a, _ := s.Group(schema.Group{Name: "a", Channels: []schema.Channel{{Name: "x"}}})
		b, _ := s.Group(schema.Group{Name: "b", Channels: []schema.Channel{{Name: "y"}}})
		s.Note("k", "v")
		for range 2 {
			if err := s.Rows(a, batch); err != nil {
				return err
			}
		}
		batch.T[0], batch.Values[0][0] = 100, 100 // A reader uses its slices again.
		s.Find(schema.Finding{Code: "first"})
		if err := s.Restart(); err != nil {
			return err
		}
		if err := s.Rows(b, batch); err != nil {
			return err
		}
		if err := s.Restart(); err != nil {
			return err
		}
		s.Find(schema.Finding{Code: "last"})
		return nil
	}), source(""))
	if err != nil || len(logs) != 2 {
		t.Fatalf("%d logs, %v", len(logs), err)
	}
	one, two := logs[0], logs[1]
	if len(one.Series) != 1 || fmt.Sprint(one.Series[0].T) != "[0 1 0 1]" || fmt.Sprint(one.Series[0].Values[0]) != "[5 NaN 5 NaN]" || one.Series[0].Texts[1] != (schema.Text{Row: 3, Text: "ON"}) {
		t.Errorf("part 0: %+v", one)
	}
	if two.Part != 1 || len(two.Series) != 1 || two.Series[0].Name != "b" || two.Notes[0] != [2]string{"k", "v"} || two.Source != "log.csv" || two.Form != "script" {
		t.Errorf("part 1: %+v", two)
	}
	if len(one.Findings) != 1 || one.Findings[0].Code != "first" || len(two.Findings) != 1 || two.Findings[0].Code != "last" {
		t.Errorf("findings: %v, %v", one.Findings, two.Findings)
	}
}

func TestCollectRefusesWhatDoesNotFit(t *testing.T) {
	for name, b := range map[string]schema.Batch{
		"channels": {T: []float64{0}, Values: [][]float64{{1}, {2}}},
		"lengths":  {T: []float64{0, 1}, Values: [][]float64{{1}}},
	} {
		_, err := read.Collect(context.Background(), script(func(s schema.Sink) error {
			g, _ := s.Group(schema.Group{Channels: []schema.Channel{{Name: "x"}}})
			return s.Rows(g, b)
		}), source(""))
		if err == nil || !strings.Contains(err.Error(), "log.csv") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := read.Collect(context.Background(), script(func(s schema.Sink) error { return s.Rows(3, schema.Batch{}) }), source("")); err == nil {
		t.Error("rows for an undeclared group were taken")
	}
}

// Whatever the bytes, one form is told or each has its reason, and the error names the source.
func FuzzDetect(f *testing.F) {
	for _, s := range []string{"Time [s],RPM\n0.0,800\n0.1,801\n", "MDF     4.10    \x00", "PAR1", "ARROW1\x00\x00", "\xff\xff\xff\xff\x10\x00\x00\x00\x10\x00\x00\x00\x00\x00\x0a\x00", "PK\x03\x04", "(1.5) can0 123#00\n", ""} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := read.Detect(context.Background(), source(string(data)))
		var none *read.NoFormError
		switch {
		case err == nil && r != nil:
		case !errors.As(err, &none) || len(none.Reasons) != len(read.Forms()) || !strings.HasPrefix(err.Error(), "log.csv: "):
			t.Errorf("%v, %v", r, err)
		}
	})
}
