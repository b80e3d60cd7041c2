package segment_test

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"dynolake/derive/segment"
	"dynolake/schema"
	"dynolake/schema/samples"
)

// sample reads an open sample log; without the folder the test is skipped, save where CI promises it.
func sample(t *testing.T, name string) []byte {
	t.Helper()
	folder := samples.Folder(t)
	data, err := os.ReadFile(filepath.Join(folder, name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// wide reads a table with a names row and a units row.
func wide(t *testing.T, data []byte, columns map[string]string) *schema.Frame {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	read := func(name string) []float64 {
		k := slices.Index(rows[0], name)
		x := make([]float64, len(rows)-2)
		for i := range x {
			if x[i], err = strconv.ParseFloat(rows[i+2][k], 64); err != nil {
				t.Fatal(err)
			}
		}
		return x
	}
	at := read("<t>")
	f := schema.NewFrame(at)
	for name, column := range columns {
		f.Set(column, read(name))
	}
	return f
}

// long reads one value a line and draws every channel onto the engine speed's clock.
func longTable(t *testing.T, data []byte, columns map[string]string) *schema.Frame {
	t.Helper()
	r := csv.NewReader(bytes.NewReader(data))
	r.Comma = ';'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	times, values := map[string][]float64{}, map[string][]float64{}
	for _, row := range rows[1:] {
		at, err1 := strconv.ParseFloat(row[0], 64)
		v, err2 := strconv.ParseFloat(row[2], 64)
		if c := columns[row[1]]; c != "" && err1 == nil && err2 == nil {
			if n := len(times[c]); n > 0 && at <= times[c][n-1] {
				continue
			}
			times[c], values[c] = append(times[c], at), append(values[c], v)
		}
	}
	base := times["engine_speed_rpm"]
	f := schema.NewFrame(base)
	for c := range times {
		x := schema.Missing(len(base))
		for i, at := range base {
			k, _ := slices.BinarySearch(times[c], at)
			switch {
			case k < len(times[c]) && times[c][k] == at:
				x[i] = values[c][k]
			case k > 0 && k < len(times[c]) && times[c][k]-times[c][k-1] < 3:
				u := (at - times[c][k-1]) / (times[c][k] - times[c][k-1])
				x[i] = values[c][k-1] + u*(values[c][k]-values[c][k-1])
			}
		}
		f.Set(c, x)
	}
	return f
}

// A measured truck on a test track, engine speed and road speed at 1 Hz: a stop-and-go course with a manual gearbox.
func TestTestTrack(t *testing.T) {
	f := wide(t, sample(t, "hd_test_track.csv"), map[string]string{"<v>": "vehicle_speed_kmh", "<n>": "engine_speed_rpm"})
	segments, _ := segment.Find(f, segment.Context{Test: "road", Gear: nan})
	check(t, f, segments)
	v, n := f.Column("vehicle_speed_kmh"), f.Column("engine_speed_rpm")
	idling, standing := 0.0, 0.0
	for i := range v {
		if v[i] < 1 {
			standing++
		}
	}
	for _, s := range kinds(segments, "idle") {
		idling += s.T1S - s.T0S + 1
		near(t, "idle speed", s.MeanRPM, 600, 15)
	}
	near(t, "seconds idling of those standing", idling/standing, 1, 0.1)
	shifts := kinds(segments, "shift")
	if len(shifts) < 35 || len(shifts) > 48 { // 16 starts from rest, two or three shifts each.
		t.Errorf("%d shifts", len(shifts))
	}
	up := 0
	for _, s := range shifts {
		before, after := n[s.Row0]/v[s.Row0], n[min(s.Row1+1, len(n)-1)]/v[min(s.Row1+1, len(n)-1)]
		if before > 1.1*after {
			up++
		}
	}
	if up < len(shifts)-2 {
		t.Errorf("%d of %d shifts lower engine speed over road speed at once", up, len(shifts))
	}
	for i, want := range [][2]float64{{15, 2428.5}, {18, 2250}, {110, 2278}} { // As read off the table.
		near(t, "time", shifts[i].T0S, want[0], 0)
		near(t, "engine speed", shifts[i].Shift.EngineSpeedRPM, want[1], 0)
	}
	if n := len(kinds(segments, "pull")); n > 0 {
		t.Errorf("%d pulls without evidence on the road", n)
	}
}

// A 12 t truck's cycle with the gear logged at 1 Hz and no engine speed: its shifts are the gear's own changes while it rolls.
func TestMotorway(t *testing.T) {
	f := wide(t, sample(t, "hd_chassis_dyno_motorway.csv"), map[string]string{"<v>": "vehicle_speed_kmh", "<gear>": "gear"})
	segments, _ := segment.Find(f, segment.Context{Test: "road", Gear: nan})
	check(t, f, segments)
	gear, v := f.Column("gear"), f.Column("vehicle_speed_kmh")
	want := 0
	for i := 1; i < len(gear); i++ {
		if gear[i] > 0 && gear[i-1] > 0 && gear[i] != gear[i-1] && v[i] > 3 {
			want++
		}
	}
	shifts := kinds(segments, "shift")
	if len(shifts) != want {
		t.Errorf("%d shifts, the gear changes %d times", len(shifts), want)
	}
	for _, s := range shifts {
		near(t, "to", s.Shift.ToGear, gear[s.Row0], 0)
		near(t, "from", s.Shift.FromGear, gear[s.Row0-1], 0)
		near(t, "engine speed", s.Shift.EngineSpeedRPM, nan, 0)
	}
}

// A measured passenger car, polled unevenly at 2 Hz in bursts: shifts as read off the table by eye, from engine speed over
// road speed, and no full-load pull at a pedal of 65 % at most.
func TestPassengerCar(t *testing.T) {
	columns := map[string]string{"Engine RPM": "engine_speed_rpm", "Vehicle speed": "vehicle_speed_kmh", "Absolute pedal position D": "pedal_pct", "Calculated engine load value": "load_pct"}
	for name, want := range map[string][][2]float64{
		"light_diesel_obd_boost_long.csv": {{1419.5, 1121}, {1470.4, 1437}, {1519.3, 1796}}, // 15.7 to 19.1, 25.9 to 19.2, 25.8 to 19 rpm/(km/h).
		"light_diesel_obd_long.csv":       {{345.2, 1933}},
	} {
		f := longTable(t, sample(t, name), columns)
		segments, _ := segment.Find(f, segment.Context{Test: "road", Gear: nan})
		check(t, f, segments)
		for _, w := range want {
			found := false
			for _, s := range kinds(segments, "shift") {
				found = found || s.Shift.EngineSpeedRPM == w[1] && s.T0S > w[0]-0.1 && s.T0S < w[0]+0.1
			}
			if !found {
				t.Errorf("%s: no shift at %g s and %g rpm", name, w[0], w[1])
			}
		}
		if n := len(kinds(segments, "pull")); n > 0 {
			t.Errorf("%s: %d pulls", name, n)
		}
		if n := len(kinds(segments, "steady")); n < 10 {
			t.Errorf("%s: %d steady stretches", name, n)
		}
	}
}
