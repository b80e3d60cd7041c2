package demo

import (
	"archive/zip"
	"bytes"
	"io"
	"math"
	"path"
	"regexp"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/canlog"
	"dynolake/pipeline/read/canlog/dbc"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
)

// file finds the first log of the demo whose name has an ending.
func file(t *testing.T, pattern string) (string, []byte) {
	t.Helper()
	name := ""
	for n := range whole(t).files {
		if ok, err := path.Match("logs/"+pattern, n); err != nil {
			t.Fatal(err)
		} else if ok && (name == "" || n < name) {
			name = n
		}
	}
	if name == "" {
		t.Fatalf("no log is named %s", pattern)
	}
	return name, whole(t).files[name]
}

// logged reads a log through the registered readers, or a bus log with the demo's own database.
func logged(t *testing.T, name string, data []byte) (logs []schema.Log) {
	t.Helper()
	sources, _, err := read.Expand(t.Context(), readtest.Bytes(path.Base(name), data))
	if err != nil {
		t.Fatal(err)
	}
	for _, src := range sources {
		r, err := read.Detect(t.Context(), src)
		if err != nil {
			t.Fatal(err)
		}
		if can, ok := r.(canlog.Reader); ok {
			text := whole(t).files["logs/invented-truck-e/invented-cell.dbc"]
			db, err := dbc.Parse("invented-cell.dbc", text)
			if err != nil {
				t.Fatal(err)
			}
			can.Databases = []dbc.Database{db}
			r = can
		}
		more, err := read.Collect(t.Context(), r, src)
		if err != nil {
			t.Fatal(err)
		}
		logs = append(logs, more...)
	}
	return logs
}

// What is read out of each form is what the model drove: every channel's lowest and highest value, to a fiftieth of its span and what its
// sensor errs by.
func TestFormsHoldTheTrace(t *testing.T) {
	for _, c := range []struct {
		pattern, form string
		which         int // Of the run's recorders.
	}{
		{"invented-car-a/*0519*-dyno.xlsx", "delimited", 1}, {"invented-car-a/*0519*-press.mf4", "mdf4", 2}, {"invented-car-a/*0519*-bus.log", "can", 3},
		{"invented-truck-e/*.mf4", "mdf4", 0}, {"invented-truck-e/*.log", "can", 0}, {"invented-truck-f/*.parquet", "columnar", 0}, {"invented-truck-f/*.arrow", "columnar", 0},
		{"invented-van-d/*.log.gz", "delimited", 0}, {"invented-van-d/*.log.zst", "delimited", 0}, {"invented-van-d/*.log.zip", "delimited", 0},
	} {
		name, data := file(t, c.pattern)
		logs := logged(t, name, data)
		if len(logs) != 1 || logs[0].Form != c.form {
			t.Errorf("%s: %d logs of form %s, want one of %s", name, len(logs), logs[0].Form, c.form)
			continue
		}
		p := planOf(t, name)
		tr := Default().run(p, false, nil)
		for _, ch := range Default().recorders(p)[c.which].channels {
			if k := index(ch.column); k >= 0 {
				compareSpan(t, name, logs[0], ch, tr, k)
			}
		}
	}
}

// planOf finds the plan that a log's name is of.
func planOf(t *testing.T, name string) plan {
	t.Helper()
	for _, p := range Default().plans() {
		if strings.HasPrefix(path.Base(name), p.v.id+"_"+p.start.Format("20060102-1504")) {
			return p
		}
	}
	t.Fatalf("%s is of no plan", name)
	return plan{}
}

// renamed are channels that a bus names in its own way, by the demo's name for them.
var renamed = map[string]string{
	"Accelerator pedal position": "Accelerator pedal position (1|D)", "Turbocharger compressor intake pressure": "Turbocharger 1 compressor intake pressure",
	"Compressor intake temperature": "Turbocharger 1 compressor intake temperature", "Turbine intake temperature": "Turbocharger 1 turbine intake temperature",
	"DPF active regeneration status": "Diesel particulate filter active regeneration status", "Charge air cooler outlet temperature": "Charge air cooler 1 outlet temperature",
	"Coolant temperature": "Engine coolant temperature", "Oil temperature": "Engine oil temperature", "Transmission temperature": "Transmission oil temperature",
	"Vehicle speed": "(Vehicle speed|Wheel-based vehicle speed)", "Current gear": "Transmission current gear", "Converter locked": "Torque converter lockup engaged",
}

func compareSpan(t *testing.T, name string, l schema.Log, ch channel, tr *trace, k int) {
	t.Helper()
	wanted := ch.name
	if l.Form == "can" && renamed[ch.name] != "" {
		wanted = renamed[ch.name]
	}
	like := regexp.MustCompile("^" + strings.ReplaceAll(wanted, " ", "[ _]") + "$")
	got := [2]float64{math.Inf(1), math.Inf(-1)}
	for _, s := range l.Series {
		for i, c := range s.Channels {
			if !like.MatchString(c.Name) {
				continue
			}
			for _, v := range s.Values[i] {
				if !math.IsNaN(v) {
					got[0], got[1] = min(got[0], v), max(got[1], v)
				}
			}
		}
	}
	want := [2]float64{math.Inf(1), math.Inf(-1)}
	factor, zero, _ := scale(ch.column, ch.unit)
	if ch.gauge {
		zero -= tr.rows[0][atBaro] * factor
	}
	for _, r := range tr.rows {
		want[0], want[1] = min(want[0], r[k]*factor+zero), max(want[1], r[k]*factor+zero)
	}
	if ch.states() && l.Form != "columnar" && l.Form != "can" {
		return // Its words are texts.
	}
	f := flawOf(ch.column)
	within := 0.02*(want[1]-want[0]) + 6*(f.share+f.gain)*math.Abs(want[1]) + 6*f.white*factor + 2*ch.quantum + 2.1*math.Pow10(-ch.decimals) + busStep(ch, l.Form)
	for i, end := range []string{"lowest", "highest"} {
		if !(math.Abs(got[i]-want[i]) <= within) {
			t.Errorf("%s: %s of %q is %.5g, the model's %.5g, within %.3g", name, end, ch.name, got[i], want[i], within)
		}
	}
}

func (c channel) states() bool { return c.column == "gear" || c.column == "converter_locked_frac" }

// busStep is how finely a bus tells whole degrees, kPa and km/h.
func busStep(ch channel, form string) float64 {
	if form == "can" && ch.column != "lambda_ratio" {
		return 1.1
	}
	return 0
}

// The workbook is one for another reader too: its title is merged, its notes are hidden.
func TestWorkbookOpensElsewhere(t *testing.T) {
	_, data := file(t, "invented-car-a/*.xlsx")
	book, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := book.GetRows("Rollers")
	if err != nil || len(rows) < 1000 || rows[0][0] != label || rows[3][1] != "Engine speed" || rows[4][1] != "rpm" {
		t.Errorf("%d rows, %v", len(rows), err)
	}
	merged, err := book.GetMergeCells("Rollers")
	if err != nil || len(merged) != 1 || merged[0].GetStartAxis() != "A1" {
		t.Errorf("merged cells %v, %v", merged, err)
	}
	if visible, err := book.GetSheetVisible("Notes"); err != nil || visible {
		t.Errorf("notes are shown: %v, %v", visible, err)
	}
}

// An answer over several frames is put together by its own rules: lengths and numbers of ISO 15765-2.
func TestMultiFrame(t *testing.T) {
	got := multiFrame([]byte{0x41, 0x0C, 0x1A, 0xF8, 0x0B, 0x64, 0x49, 0x80, 0x0D, 0x32})
	want := []string{"7E8#100A410C1AF80B64", "7E0#3000005555555555", "7E8#2149800D32555555"}
	if strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestPut(t *testing.T) {
	for _, c := range []struct {
		m    message
		p    place
		x    float64
		want [8]byte
	}{
		{message{}, place{"", 4, 16, 0.125, 0, 0}, 600, [8]byte{0, 0, 0, 0xC0, 0x12}},
		{message{big: true, signed: true}, place{"", 1, 16, 0.5, 0, 0}, -1, [8]byte{0xFF, 0xFE}},
		{message{}, place{"", 2, 2, 1, 0, 3}, 1, [8]byte{0, 4}},
		{message{}, place{"", 1, 8, 1, -40, 0}, 300, [8]byte{0xFF}}, // As high as it goes.
		{message{}, place{"", 1, 8, 1, 0, 0}, -3, [8]byte{}},
	} {
		var data [8]byte
		if c.m.put(&data, c.p, c.x); data != c.want {
			t.Errorf("%v at %+v: % X, want % X", c.x, c.p, data, c.want)
		}
	}
}

func TestSeekable(t *testing.T) {
	var m seekable
	for _, step := range []struct {
		offset int64
		whence int
		text   string
	}{{0, io.SeekStart, "abcdef"}, {2, io.SeekStart, "XY"}, {0, io.SeekEnd, "g"}, {-1, io.SeekCurrent, "Z"}} {
		if _, err := m.Seek(step.offset, step.whence); err != nil {
			t.Fatal(err)
		}
		if _, err := m.Write([]byte(step.text)); err != nil {
			t.Fatal(err)
		}
	}
	if string(m.data) != "abXYefZ" {
		t.Errorf("got %q", m.data)
	}
	if _, err := m.Seek(-9, io.SeekStart); err == nil {
		t.Error("a place before the beginning was taken")
	}
}

// A packed log holds the log under its own name.
func TestPackedName(t *testing.T) {
	name, data := file(t, "invented-van-d/*.zip")
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil || len(z.File) != 1 || z.File[0].Name+".zip" != path.Base(name) {
		t.Errorf("%s: %v", name, err)
	}
}
