package demo

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"errors"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"unicode/utf16"

	"github.com/goccy/go-yaml"
	"golang.org/x/text/encoding/charmap"

	"dynolake/schema"
)

// written is the whole demo in memory.
type written struct {
	truth Truth
	files map[string][]byte
	err   error
}

var demo = sync.OnceValue(func() written {
	dir, err := os.MkdirTemp("", "demo")
	if err != nil {
		return written{err: err}
	}
	defer func() { _ = os.RemoveAll(dir) }() // What is left in the temporary folder harms nobody.
	w := written{files: map[string][]byte{}}
	if w.truth, w.err = Write(context.Background(), dir); w.err != nil {
		return w
	}
	w.err = filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(dir, p)
		if err == nil {
			w.files[filepath.ToSlash(name)], err = os.ReadFile(p)
		}
		return err
	})
	return w
})

func whole(t *testing.T) written {
	t.Helper()
	w := demo()
	if w.err != nil {
		t.Fatal(w.err)
	}
	return w
}

// Writing some of the runs again, alone and into another folder, gives the same bytes.
func TestSameBytesEachTime(t *testing.T) {
	all := whole(t)
	dir := t.TempDir()
	var some []plan
	for i, p := range Default().plans() {
		if i%5 == 0 && p.part == 0 && p.name() != "invented-car-b-stock-sweep-1" && p.name() != "invented-van-c-step2-sweep-1" {
			some = append(some, p)
		}
	}
	w := newWriter(Default(), dir, some)
	for _, p := range some {
		if err := w.run(p); err != nil {
			t.Fatal(err)
		}
	}
	n := 0
	for _, r := range w.tally.out.Runs {
		for _, f := range r.Files {
			name := path.Join(r.Folder, f.Name)
			again, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
			if err != nil {
				t.Fatal(err)
			}
			n++
			if sha256.Sum256(again) != sha256.Sum256(all.files[name]) {
				t.Errorf("%s came out differently", name)
			}
		}
	}
	if n < 15 {
		t.Errorf("only %d files were compared", n)
	}
}

func TestTruthIsTheSameWithAndWithoutFiles(t *testing.T) {
	a, b := scenario(), whole(t).truth
	if len(a.Cases) != len(b.Cases) || len(a.Runs) != len(b.Runs) {
		t.Fatal("Scenario and Write disagree on the runs")
	}
	for i := range a.Cases {
		near(t, "peak power", a.Cases[i].PeakPowerKW, b.Cases[i].PeakPowerKW, 0)
	}
}

func TestSheetsNameEveryLogOnce(t *testing.T) {
	w := whole(t)
	named := map[string]int{}
	for name, data := range w.files {
		dir := path.Dir(name)
		switch {
		case path.Base(name) == "runs.csv":
			rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
			if err != nil {
				t.Fatal(err)
			}
			at := slices.Index(rows[0], "files")
			for _, r := range rows[1:] {
				for _, f := range strings.Split(r[at], ";") {
					named[path.Join(dir, f)]++
				}
			}
		case strings.HasSuffix(name, ".run.yaml"):
			var sheet struct{ Files []string }
			if err := yaml.Unmarshal(data, &sheet); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			for _, f := range sheet.Files {
				named[path.Join(dir, f)]++
			}
		}
	}
	truth := map[string]bool{}
	for _, r := range w.truth.Runs {
		for _, f := range r.Files {
			truth[path.Join(r.Folder, f.Name)] = true
		}
	}
	for name := range w.files {
		if strings.HasPrefix(name, "logs/") && path.Base(name) != "runs.csv" && !strings.HasSuffix(name, ".run.yaml") && path.Ext(name) != ".dbc" {
			if named[name] != 1 || !truth[name] {
				t.Errorf("%s is named %d times in sheets, in the truth %v", name, named[name], truth[name])
			}
			delete(named, name)
		}
	}
	if len(named) > 0 {
		t.Errorf("sheets name files that are missing: %v", named)
	}
}

func TestEveryFormAndDialectIsThere(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range whole(t).truth.Runs {
		for _, d := range r.Dialects {
			seen[d] = true
		}
	}
	for _, want := range []string{
		"delimiter comma", "delimiter semicolon", "delimiter tab", "delimiter pipe", "form wide", "form long", "form paired", "form workbook", "form mdf4", "form obd", "form j1939", "form parquet", "form arrow",
		"packed .gz", "packed .zst", "packed .zip", "several recorders",
		"utf8", "bom", "utf16le", "utf16be", "cp1252", "clock s", "clock ms", "clock m:s", "clock clock", "clock stamp", "units [", "units (", "units row", "units column",
		"decimal comma", "crlf", "quoted", "trailing delimiter", "repeated header", "restart", "text states", "blanks", "missing as text", "preamble",
	} {
		if !seen[want] {
			t.Errorf("no log has %q", want)
		}
	}
}

// text decodes a log by its own marks.
func text(t *testing.T, data []byte) string {
	t.Helper()
	big := bytes.HasPrefix(data, []byte{0xFE, 0xFF})
	if big || bytes.HasPrefix(data, []byte{0xFF, 0xFE}) {
		var words []uint16
		for i := 2; i+1 < len(data); i += 2 {
			lo, hi := data[i], data[i+1]
			if big {
				lo, hi = hi, lo
			}
			words = append(words, uint16(lo)|uint16(hi)<<8)
		}
		return string(utf16.Decode(words))
	}
	if s := string(bytes.TrimPrefix(data, []byte{0xEF, 0xBB, 0xBF})); strings.ToValidUTF8(s, "") == s {
		return s
	}
	s, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		t.Fatal(err)
	}
	return string(s)
}

func TestEverythingSaysThatItIsInvented(t *testing.T) {
	w := whole(t)
	size := 0
	for name, data := range w.files {
		size += len(data)
		head := text(t, data[:min(len(data), 600)])
		if !strings.Contains(strings.ToLower(head), "invented") && !strings.Contains(path.Base(name), "invented") {
			t.Errorf("%s does not say that it is invented", name)
		}
	}
	if size > 60e6 {
		t.Errorf("the demo takes %d bytes", size)
	}
	for _, word := range []string{"can kill", "restraints", "exhaust gas", "local codes", "licensed practice", "emission controls in place"} {
		if !strings.Contains(string(w.files["README.txt"]), word) {
			t.Errorf("README.txt does not say %q", word)
		}
	}
}

// Names are ones that the catalogue knows for that column; nothing else may be mapped.
func TestNamesAreTheTrades(t *testing.T) {
	fold := func(s string) string {
		return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
			return (r < 'a' || r > 'z') && (r < '0' || r > '9')
		}), " ")
	}
	known := map[string]string{}
	for _, c := range schema.Columns() {
		for _, a := range append(c.Aliases, c.Name) {
			known[fold(a)] = c.Name
		}
	}
	odd := 0
	for _, p := range Default().plans() {
		for _, r := range Default().recorders(p) {
			for _, c := range r.channels {
				if got := known[fold(c.name)]; got != c.column {
					t.Errorf("%s: %q is known as %q, want %q", p.name(), c.name, got, c.column)
				}
				if c.column == "" {
					odd++
				}
			}
		}
	}
	if odd == 0 {
		t.Error("no log has a channel that nobody knows")
	}
}

// Factors written here agree with the units' own table.
func TestScaleAgreesWithUnits(t *testing.T) {
	for _, p := range Default().plans() {
		for _, r := range Default().recorders(p) {
			for _, c := range r.channels {
				column, ok := schema.Lookup(c.column)
				if !ok || c.unit == "" {
					continue
				}
				from, ok1 := schema.ParseUnit(column.Unit)
				to, ok2 := schema.ParseUnit(c.unit)
				if !ok1 || !ok2 {
					t.Errorf("%s: unit %q of %q is unknown", p.name(), c.unit, c.name)
					continue
				}
				if from.Quantity == "mass flow" && to.Quantity == "volume flow" || to.Quantity == "volume per stroke" {
					continue // Goes through the fuel's density.
				}
				want, err := from.Convert(123.4, to)
				if err != nil {
					t.Errorf("%s: %q: %v", p.name(), c.name, err)
					continue
				}
				factor, zero, _ := scale(c.column, c.unit)
				near(t, c.name+" in "+c.unit, 123.4*factor+zero, want, 1e-6)
			}
		}
	}
}

func TestWriteStopsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Write(ctx, t.TempDir()); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want a cancelled context", err)
	}
}

func TestWriteSaysWhereItFailed(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Write(t.Context(), file); err == nil || !strings.Contains(err.Error(), "demo folder") {
		t.Errorf("got %v, want an error about the folder", err)
	}
}

// A larger scale has more runs, and no two of them share a name or a file.
func TestScaleKeepsNamesApart(t *testing.T) {
	m := Default()
	base := len(m.plans())
	m.Scale = 150
	plans := m.plans()
	if len(plans) != 150*base {
		t.Errorf("%d runs at scale 150, want %d", len(plans), 150*base)
	}
	names, files := map[string]bool{}, map[string]bool{}
	for _, p := range plans {
		file := p.v.id + p.start.String()
		if names[p.name()] || files[file] {
			t.Fatalf("%s at %v comes twice", p.name(), p.start)
		}
		names[p.name()], files[file] = true, true
	}
}
