package sheet

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

// Every dialect of the same row gives the same entry.
func TestTableDialects(t *testing.T) {
	want := schema.Sheet{
		Files: []string{"a.csv", "b.csv"}, Vehicle: "van-1", Calibration: "step 2", Hardware: "turbo B", Test: "sweep", StartedAt: "2026-03-05 14:30", Dyno: "cell-1", Gear: 4,
		BaroKPa: 99.1, AmbientC: 20, HumidityPct: 45.5, DewPointC: math.NaN(), WetBulbC: math.NaN(), Standard: "iso1585-1992", Note: "cold, wet",
	}
	head := []string{"files", "vehicle", "calibration", "hardware", "test", "started_at", "dyno", "gear", "baro", "ambient", "humidity", "standard", "note"}
	row := []string{`"a.csv;b.csv"`, "van-1", "step 2", "turbo B", "Sweep", "2026-03-05 14:30", "cell-1", "4", "99.1", "20", "45.5", "ISO 1585:1992", `"cold, wet"`}
	with := func(list []string, i int, s string) []string {
		out := append([]string{}, list...)
		out[i] = s
		return out
	}
	table := func(sep, end string, rows ...[]string) string {
		var b strings.Builder
		for _, r := range rows {
			b.WriteString(strings.Join(r, sep) + end)
		}
		return b.String()
	}
	comma := with(with(with(row, 8, "99,1"), 9, "20,0"), 10, "45,5")
	for name, text := range map[string]string{
		"comma":                 table(",", "\n", head, row),
		"semicolon and comma":   table(";", "\r\n", head, comma),
		"tab":                   table("\t", "\n", head, comma),
		"quoted decimal comma":  table(",", "\n", head, with(row, 8, `"99,1"`)),
		"old line ends":         strings.ReplaceAll(table(";", "\r", head, row), "\r", "\n"),
		"capitals":              strings.Replace(table(",", "\n", head, row), strings.Join(head, ","), strings.ToUpper(strings.Join(head, ",")), 1),
		"no last newline":       strings.TrimSpace(table(",", "\n", head, row)),
		"unit in cell":          table(",", "\n", head, with(with(with(row, 8, "991 mbar"), 9, "68 °F"), 10, "45.5 %")),
		"unit in heading":       table(",", "\n", with(with(with(head, 8, "Baro [mbar]"), 9, "ambient °F"), 10, "Humidity (%)"), with(with(row, 8, "991"), 9, "68")),
		"unit with underscore":  table(",", "\n", with(with(with(head, 8, "baro_hPa"), 9, "ambient_degF"), 10, "humidity_pct"), with(with(row, 8, "991"), 9, "68")),
		"cell's unit wins":      table(",", "\n", with(head, 8, "baro [mbar]"), with(row, 8, "99.1 kPa")),
		"title and sep":         "sep=,\nTests of one week\n\n" + table(",", "\n", head, row),
		"blank and short lines": table(",", "\n", head) + ",,,\n\n" + table(",", "\n", row) + ",,,,,,,,,,,,,,\n",
		"headings again":        table(",", "\n", head, row, head),
	} {
		rows, err := readTable("runs.csv", text)
		if err != nil || len(rows) != 1 || len(rows[0].faults) > 0 {
			t.Errorf("%s: %d rows, %v %v", name, len(rows), err, rows)
			continue
		}
		if d := cmp.Diff(want, rows[0].sheet, cmpopts.IgnoreFields(schema.Sheet{}, "Origin"), cmpopts.EquateApprox(0, 1e-9), cmpopts.EquateNaNs()); d != "" {
			t.Errorf("%s: %s", name, d)
		}
	}
}

func TestDateAndTimeColumnsAreJoined(t *testing.T) {
	rows, err := readTable("runs.csv", "Date;Time;Log\n05.03.2026;14:30;a.csv\n05.03.2026;;a.csv\n;14:30;a.csv\n")
	if err != nil || len(rows) != 3 {
		t.Fatal(err, rows)
	}
	if rows[0].sheet.StartedAt != "05.03.2026 14:30" || rows[1].sheet.StartedAt != "05.03.2026" || len(rows[2].faults) != 1 {
		t.Errorf("got %q, %q, %v", rows[0].sheet.StartedAt, rows[1].sheet.StartedAt, rows[2].faults)
	}
}

func TestDuplicateHeadingsAreRefused(t *testing.T) {
	if _, err := readTable("runs.csv", "files,vehicle,Vehicle ID\na.csv,v1,v2\n"); err == nil || !strings.Contains(err.Error(), `found the headings "vehicle" and "Vehicle ID"`) {
		t.Error(err)
	}
}

func TestExtraColumnsGoIntoTheNote(t *testing.T) {
	rows, err := readTable("runs.csv", "files,note,operator,vehicel\na.csv,dry,kx,v1\n")
	if err != nil || len(rows) != 1 {
		t.Fatal(err)
	}
	if rows[0].sheet.Note != "dry; operator: kx; vehicel: v1" {
		t.Errorf("note %q", rows[0].sheet.Note)
	}
	last := rows[0].findings[len(rows[0].findings)-1]
	if last.Severity != schema.Doubt || !strings.Contains(last.Text, `did you mean "vehicle"?`) {
		t.Errorf("finding %+v", last)
	}
}

func TestSingleSheet(t *testing.T) {
	r, err := readSingle("a.run.yaml", "files: a.csv; b.csv\nvehicle: 007\ngear: 4\nambient: 68 °F\nbaro_mbar: 991\nstarted_at: 2026-03-05 14:30:00\nnote: |\n  cold\n  wet\noperator: [kx, ky]\nhardware:\n")
	if err != nil || len(r.faults) > 0 {
		t.Fatal(err, r)
	}
	want := schema.Sheet{Files: []string{"a.csv", "b.csv"}, Vehicle: "007", Gear: 4, AmbientC: 20, BaroKPa: 99.1, HumidityPct: math.NaN(), DewPointC: math.NaN(), WetBulbC: math.NaN(), StartedAt: "2026-03-05 14:30:00", Note: "cold\n  wet; operator: kx; ky", Origin: "a.run.yaml:1:1"}
	want.Note = "cold\nwet; operator: kx; ky"
	if d := cmp.Diff(want, r.sheet, cmpopts.EquateApprox(0, 1e-9), cmpopts.EquateNaNs()); d != "" {
		t.Error(d)
	}
}

func TestTime(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	at := func(loc *time.Location, h, m, s int) time.Time { return time.Date(2026, 3, 5, h, m, s, 0, loc) }
	for text, want := range map[string]time.Time{
		"2026-03-05T14:30:00Z": at(time.UTC, 14, 30, 0), "2026-03-05T14:30:00+02:00": at(time.UTC, 12, 30, 0), "2026-03-05 14:30:00 +0200": at(time.UTC, 12, 30, 0),
		"2026-03-05 14:30": at(vienna, 14, 30, 0), "2026-03-05T14:30": at(vienna, 14, 30, 0), "2026-03-05t14:30:09z": at(time.UTC, 14, 30, 9), "2026-3-5 14:30:05": at(vienna, 14, 30, 5),
		"05.03.2026 14:30": at(vienna, 14, 30, 0), "5.3.2026": at(vienna, 0, 0, 0), "05.03.26 14:30": at(vienna, 14, 30, 0), "2026-03-05": at(vienna, 0, 0, 0), "2026/03/05 14:30": at(vienna, 14, 30, 0),
		"5 March 2026 2:30 PM": at(vienna, 14, 30, 0), "Mar 5, 2026 2:30 pm": at(vienna, 14, 30, 0), "05-Mar-2026 14:30:00": at(vienna, 14, 30, 0), "2026-03-05 14:30 UTC": at(time.UTC, 14, 30, 0),
		" 2026-03-05  14:30 ": at(vienna, 14, 30, 0), "05.03.2026, 14:30": at(vienna, 14, 30, 0), "3/3/2026 1:00": time.Date(2026, 3, 3, 1, 0, 0, 0, vienna), "13/03/2026": time.Date(2026, 3, 13, 0, 0, 0, 0, vienna),
		"03/13/2026 14:30": time.Date(2026, 3, 13, 14, 30, 0, 0, vienna), "2026-03-05 14:30:00.250": at(vienna, 14, 30, 0).Add(250 * time.Millisecond),
	} {
		if got, err := Time(text, vienna); err != nil || !got.Equal(want) {
			t.Errorf("Time(%q) = %v, %v, want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "yesterday", "03/05/2026", "03-05-2026 14:30", "14:30", "46086.6", "2026-13-05", "2026-02-30", "2026-03-05 25:00", "13/13/2026"} {
		if got, err := Time(text, vienna); err == nil {
			t.Errorf("Time(%q) = %v, want an error", text, got)
		}
	}
}

func TestFill(t *testing.T) {
	s := Empty()
	s.Vehicle, s.Gear = "v1", 4
	got := Fill(s, schema.Sheet{Vehicle: "v2", Calibration: "c", Gear: 5, BaroKPa: 99, AmbientC: math.NaN(), HumidityPct: math.NaN()})
	if got.Vehicle != "v1" || got.Calibration != "c" || got.Gear != 4 || got.BaroKPa != 99 || !math.IsNaN(got.AmbientC) {
		t.Errorf("Fill = %+v", got)
	}
}

// How moist the air is can be stated in three ways, one of them at a time.
func TestMoistureAndZeros(t *testing.T) {
	for text, want := range map[string]struct {
		dew, wet float64
		zero     string
		fault    string
	}{
		"files,Dew Point [°F]\na.csv,49.1\n":                      {dew: 9.5, wet: math.NaN()},
		"files,wet bulb\na.csv,15 °C\n":                           {dew: math.NaN(), wet: 15},
		"files,zero\na.csv,key-on\n":                              {dew: math.NaN(), wet: math.NaN(), zero: "key-on"},
		"files,zeros\na.csv,turbine_in_kpa = -1.2 kPa; map_kpa\n": {dew: math.NaN(), wet: math.NaN(), zero: "turbine_in_kpa = -1.2 kPa; map_kpa"},
		"files,humidity,dew_point\na.csv,40,9\n":                  {fault: "want one of the three"},
		"files,wet_bulb\na.csv,-3\n":                              {fault: "wet_bulb"},
		"files,zero\na.csv,turbin_in_kpa\n":                       {fault: `did you mean "turbine_in_kpa"`},
		"files,zero\na.csv,map_kpa=90 kPa\n":                      {fault: "map_kpa"},
	} {
		rows, err := readTable("runs.csv", text)
		if err != nil || len(rows) != 1 {
			t.Fatal(text, err)
		}
		if want.fault != "" {
			if err := errors.Join(rows[0].faults...); err == nil || !strings.Contains(err.Error(), want.fault) {
				t.Errorf("%q: faults %v, want %q", text, err, want.fault)
			}
			continue
		}
		s := rows[0].sheet
		same := func(a, b float64) bool { return math.Abs(a-b) < 1e-9 || math.IsNaN(a) && math.IsNaN(b) }
		if len(rows[0].faults) > 0 || !same(s.DewPointC, want.dew) || !same(s.WetBulbC, want.wet) || s.Zero != want.zero {
			t.Errorf("%q: %+v, faults %v", text, s, rows[0].faults)
		}
	}
}

func FuzzReadTable(f *testing.F) {
	for _, s := range []string{"files,vehicle\na.csv,v1\n", "sep=;\nfiles;baro [mbar]\n\"a;b\";1013,2\n", "files\t\n\"\n", "files,date,time\n,,\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		rows, err := readTable("f", text)
		if err != nil && !strings.HasPrefix(err.Error(), "f:") {
			t.Errorf("the error %q has no place", err)
		}
		for _, r := range rows {
			if len(r.sheet.Files) == 0 && len(r.faults) == 0 {
				t.Error("a row without files is good")
			}
		}
		_, _ = readSingle("f", text)
		_, _ = entry.Decode([]byte(text))
		_, _ = Time(text, time.UTC)
	})
}
