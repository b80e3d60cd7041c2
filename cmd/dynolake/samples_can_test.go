package main

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dynolake/schema/samples"
)

// The open candump samples through the whole program, with their database beside them. The figures are an independent reading's
// (a bit decoder in Python, with numpy), brought to the stored units; a column keeps its range and its mean within what placing it on the
// fastest clock may shift.
func TestCANSamples(t *testing.T) {
	dir, logs := samples.Folder(t), t.TempDir()
	for _, name := range []string{"hd_truck_drive_two_buses.candump.log", "hd_truck_idle_j1939.candump.log", "candump_cut_line.log", "thermocouples_4ch.candump.log", "hd_truck_j1939.dbc"} {
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(logs, name), text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	lake := filepath.Join(t.TempDir(), "lake")
	dynolake(t, "init", "--lake", lake, "--quiet")
	dynolake(t, "ingest", "--lake", lake, "--quiet", logs)
	const kgL, baro = 0.835, 98.5
	const drive, idle, probes = "hd_truck_drive_two_buses.candump.log", "hd_truck_idle_j1939.candump.log", "thermocouples_4ch.candump.log"
	for _, f := range []figure{
		{drive, "", "engine_speed_rpm", 1173, 1053.625, 2047.5, 1396.38523, 1},
		{drive, "", "vehicle_speed_kmh", 1100, 24.546875, 103.5, 65.38975694, 1},
		{drive, "", "fuel_kg_h", 1100, 2.85, 64.45, 10.61893617, kgL},
		{drive, "", "maf_g_s", 1100, 559.2, 1304.5, 844.3220213, 1 / 3.6},
		{drive, "unmapped", "Aftertreatment1ExhaustGasTemp1", 47, 263.1875, 384.28125, 296.4694149, 1}, // Before the oxidation catalyst: the filter's own inlet is logged too.
		{drive, "", "map_kpa", 1100, 12 + baro, 104 + baro, 40.42553191 + baro, 1},
		{idle, "", "engine_speed_rpm", 1205, 598.375, 603.375, 600.4428423, 1},
		{idle, "", "engine_torque_nm", 1205, 15 * 23, 17 * 23, 16.01742739 * 23, 1},
		{idle, "", "fuel_kg_h", 1100, 3.4, 3.8, 3.61322314, kgL},
		{idle, "", "turbine_in_c", 1100, 53.875, 55.78125, 55.22526042, 1},
		{idle, "", "maf_g_s", 1100, 248, 259.55, 254.7273859, 1 / 3.6},
		{probes, "unmapped", "EGT_0", 76, 36.81, 37.12, 36.975, 1},
	} {
		if f.view == "unmapped" {
			f.check(t, lake)
			continue
		}
		r := askJSON(t, lake, "--sql", "SELECT count("+f.column+") AS n, min("+f.column+") AS lowest, max("+f.column+") AS highest, avg("+f.column+") AS mean FROM samples JOIN sources USING (run_id) WHERE source = "+literal(f.source))[0]
		const digits = 1e-6 // 32-bit floats.
		if r.num("n") < float64(f.n) || r.num("lowest") < f.lowest*f.factor*(1-digits) || r.num("highest") > f.highest*f.factor*(1+digits) || math.Abs(r.num("mean")/(f.mean*f.factor)-1) > 0.02 {
			t.Errorf("%s %s: %v, stated n %d, %v to %v, mean %v", f.source, f.column, r, f.n, f.lowest*f.factor, f.highest*f.factor, f.mean*f.factor)
		}
	}
	cut := askJSON(t, lake, "--sql", "SELECT text FROM findings WHERE code = 'cut_or_foreign_line' AND source = 'candump_cut_line.log'")
	if len(cut) != 1 || !strings.HasPrefix(cut[0]["text"].(string), "1 line: ") {
		t.Errorf("the cut line is told as %v", cut)
	}
	started := askJSON(t, lake, "--sql", "SELECT CAST(started_at AS VARCHAR) AS at FROM runs JOIN sources USING (run_id) WHERE source = "+literal(drive))[0]
	if at, _ := started["at"].(string); !strings.HasPrefix(at, "2022-03-29 18:10:23") {
		t.Errorf("the drive began at %v", started["at"])
	}
}
