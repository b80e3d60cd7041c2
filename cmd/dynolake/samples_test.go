package main

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dynolake/schema/samples"
)

// samplesLake ingests the delimited samples with one sheet, as a shop would.
func samplesLake(t *testing.T) string {
	t.Helper()
	dir, logs := samples.Folder(t), t.TempDir()
	sheet := "files,vehicle,calibration,test\n"
	for _, line := range []string{
		"light_diesel_obd_long.csv,sample-car,stock,road", "light_diesel_obd_boost_long.csv,sample-car,stock,road", "obd_implausible_ramp_long.csv,sample-ramp,stock,other",
		"chassis_dyno_fuel_speed_1hz.csv,sample-petrol,stock,other", "cycle_class3b_1hz_bom_crlf.csv,sample-cycle,stock,other", "cycle_urban_1hz.csv,sample-cycle,stock,other",
		"road_day_datetime_gaps.csv,sample-day,stock,road", "hd_chassis_dyno_motorway.csv,sample-truck,stock,other", "hd_test_track.csv,sample-truck,stock,other",
		"hd_diesel_engine_only_1hz.csv,sample-engine,stock,other",
	} {
		name, _, _ := strings.Cut(line, ",")
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(logs, name), text, 0o644); err != nil {
			t.Fatal(err)
		}
		sheet += line + "\n"
	}
	if err := os.WriteFile(filepath.Join(logs, "runs.csv"), []byte(sheet), 0o644); err != nil {
		t.Fatal(err)
	}
	lake := filepath.Join(t.TempDir(), "lake")
	dynolake(t, "init", "--lake", lake, "--quiet")
	dynolake(t, "ingest", "--lake", lake, "--quiet", logs)
	return lake
}

// figure is what an independent reading of a sample (Python's csv module and numpy) says of a column.
type figure struct {
	source, view, column string
	n                    int
	lowest, highest      float64 // NaN: not stated.
	mean                 float64
	factor               float64 // From the unit as logged to the stored one, by definition.
}

// Figures of the samples' own description: counts, ranges and means of the logged numbers, brought to the stored units.
func TestSamplesAgreeWithTheirFigures(t *testing.T) {
	const mph, mps = 1.609344, 3.6
	nan := math.NaN()
	lake := samplesLake(t)
	for _, f := range []figure{
		{"chassis_dyno_fuel_speed_1hz.csv", "samples", "t_s", 1404, 0, 1403, nan, 1},
		{"chassis_dyno_fuel_speed_1hz.csv", "samples", "fuel_kg_h", 1404, 0, 10.713, 0.5219661966, 3.6 * 0.835},
		{"chassis_dyno_fuel_speed_1hz.csv", "samples", "roller_speed_kmh", 1404, 0, 56.835, 19.18667574, mph},
		{"cycle_class3b_1hz_bom_crlf.csv", "samples", "vehicle_speed_kmh", 1801, 0, 36.47222222, 12.91853291, mps},
		{"cycle_urban_1hz.csv", "samples", "vehicle_speed_kmh", 1370, 0, 25.34757924, 8.752141014, mps},
		{"road_day_datetime_gaps.csv", "samples", "t_s", 2686, 0, 36813, nan, 1},
		{"road_day_datetime_gaps.csv", "samples", "vehicle_speed_kmh", 2686, 0, 69.41443515, 38.10810067, mph},
		{"hd_chassis_dyno_motorway.csv", "samples", "vehicle_speed_kmh", 3450, -0.014, 88.722, 70.07366928, 1},
		{"hd_chassis_dyno_motorway.csv", "samples", "gear", 3450, 0, 6, 5.154782609, 1},
		{"hd_chassis_dyno_motorway.csv", "unmapped", "<Padd>", 3450, 1.866289072, 13.29073933, 5.761304085, 1},
		{"hd_test_track.csv", "samples", "vehicle_speed_kmh", 1512, 0, 83.5281, 23.85167325, 1},
		{"hd_test_track.csv", "samples", "engine_speed_rpm", 1512, 574.25, 2500, 1166.085648, 1},
		{"hd_test_track.csv", "unmapped", "<vair_beta>", 1512, -132, 45, nan, 1},
		{"hd_diesel_engine_only_1hz.csv", "samples", "engine_speed_rpm", 696, 600, 2503.301, 1305.709261, 1},
		{"hd_diesel_engine_only_1hz.csv", "samples", "engine_torque_nm", 696, -235.0663, 724.2514, 177.2027867, 1},
		{"hd_diesel_engine_only_1hz.csv", "samples", "fuel_kg_h", 689, 37.61931, 25727.47, 8063.761774, 0.001},
		{"hd_diesel_engine_only_1hz.csv", "unmapped", "Pe_eng", 696, -39.66005, 134.7832, 28.2591799, 1},
		{"light_diesel_obd_boost_long.csv", "unmapped", "Calculated boost", 1022, 0, 0.96, 0.1606068982, 1},
		{"obd_implausible_ramp_long.csv", "unmapped", "Engine RPM", 29, 708, 15903, 9041, 1},
		{"obd_implausible_ramp_long.csv", "unmapped", "Control module voltage", 29, 2.835, 63.615, nan, 1},
	} {
		f.check(t, lake)
	}
}

func (f figure) check(t *testing.T, lake string) {
	t.Helper()
	statement := "SELECT count(" + f.column + ") AS n, min(" + f.column + ") AS lowest, max(" + f.column + ") AS highest, avg(" + f.column + ") AS mean FROM samples JOIN sources USING (run_id) WHERE source = " + literal(f.source)
	if f.view == "unmapped" {
		statement = "SELECT count(value) AS n, min(value) AS lowest, max(value) AS highest, avg(value) AS mean FROM unmapped WHERE source = " + literal(f.source) + " AND name = " + literal(f.column)
	}
	r := askJSON(t, lake, "--sql", statement)[0]
	where := f.source + " " + f.column
	if int(r.num("n")) != f.n {
		t.Errorf("%s: n = %v, stated %d", where, r["n"], f.n)
	}
	for name, stated := range map[string]float64{"lowest": f.lowest, "highest": f.highest, "mean": f.mean} {
		// Stored as 32-bit floats: seven digits.
		if want := stated * f.factor; !math.IsNaN(stated) && !(math.Abs(r.num(name)-want) <= 2e-7*math.Max(math.Abs(want), 1)*5) {
			t.Errorf("%s: %s = %v, stated %v", where, name, r[name], want)
		}
	}
}

// A polled log has a clock a channel: its values are placed on the fastest one, so they keep their range and, at their own
// rate, their mean.
func TestPolledSamplesKeepTheirRange(t *testing.T) {
	lake := samplesLake(t)
	for _, f := range []figure{
		{"light_diesel_obd_long.csv", "", "engine_speed_rpm", 691, 837, 2075, 1940.212735, 1},
		{"light_diesel_obd_long.csv", "", "vehicle_speed_kmh", 691, 66, 132, 122.7308249, 1},
		{"light_diesel_obd_long.csv", "", "pedal_pct", 691, 7, 65, 14.72503618, 1},
		{"light_diesel_obd_boost_long.csv", "", "map_kpa", 1022, 40, 196, 111.8091977, 1},
		{"light_diesel_obd_boost_long.csv", "", "engine_speed_rpm", 481, 823, 1796, 1291.482328, 1},
		{"light_diesel_obd_boost_long.csv", "", "baro_kpa", 101, 100, 100, 100, 1},
	} {
		r := askJSON(t, lake, "--sql", "SELECT count(*) AS n, min("+f.column+") AS lowest, max("+f.column+") AS highest, avg("+f.column+") AS mean FROM samples JOIN sources USING (run_id) WHERE source = "+literal(f.source))[0]
		if r.num("n") < float64(f.n) || r.num("lowest") < f.lowest || r.num("highest") > f.highest || math.Abs(r.num("mean")/f.mean-1) > 0.02 {
			t.Errorf("%s %s: %v, stated n %d, %v to %v, mean %v", f.source, f.column, r, f.n, f.lowest, f.highest, f.mean)
		}
	}
	for source, rows := range map[string]float64{"light_diesel_obd_long.csv": 6916, "light_diesel_obd_boost_long.csv": 12717, "obd_implausible_ramp_long.csv": 2400} {
		if r := askJSON(t, lake, "--sql", "SELECT rows FROM sources WHERE source = "+literal(source))[0]; r.num("rows") != rows {
			t.Errorf("%s: %v rows read, stated %v", source, r["rows"], rows)
		}
	}
}

// Maps and curves have no clock: they are set aside with the reason, and a log beside them lands.
func TestSamplesWithoutAClockAreSetAside(t *testing.T) {
	dir := samples.Folder(t)
	lake := filepath.Join(t.TempDir(), "lake")
	dynolake(t, "init", "--lake", lake, "--quiet")
	args := []string{"dynolake", "ingest", "--lake", lake, filepath.Join(dir, "cycle_urban_1hz.csv")}
	for _, name := range []string{"hd_diesel_full_load.csv", "hd_diesel_full_load_bom.csv", "hd_diesel_fuel_map.csv", "engine_fuel_map_norm.csv"} {
		args = append(args, filepath.Join(dir, name))
	}
	var out, errs bytes.Buffer
	if code := run(context.Background(), args, &out, &errs); code != exitSetAside {
		t.Errorf("exit %d, want %d", code, exitSetAside)
	}
	if n := strings.Count(errs.String(), "a time channel is missing"); n != 4 || !strings.Contains(out.String(), "stored") {
		t.Errorf("%d of 4 reasons name the time channel\n%s%s", n, errs.String(), out.String())
	}
}
