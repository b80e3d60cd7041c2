package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// bench is an invented log at 10 Hz: engine stopped, idling, a pull, the pedal let go, coasting with the clutch open. The pressure before the turbine reads 1.5 kPa
// low, the manifold's hangs where asked, and the thermocouple follows the gas with a lag of 1.2 s.
func bench(hangs bool) string {
	var b strings.Builder
	b.WriteString("Time [s],Engine speed [rpm],Pedal [%],Vehicle speed [km/h],Barometric pressure [kPa],Boost pressure [kPa abs],Turbine inlet pressure [kPa abs],MAF [g/s],Fuel rate [kg/h],EGT [°C]\n")
	probe := 200.0
	for i := range 900 {
		t := float64(i) / 10
		rpm, pedal, speed, boost, gas, fuel := 0.0, 0.0, 0.0, 0.0, 200.0, 0.0
		switch {
		case t < 6:
		case t < 12:
			rpm, fuel = 800+5*math.Sin(9*t), 0.8
		case t < 30:
			x := (t - 12) / 18
			rpm, pedal, speed, gas, fuel = 1400+2200*x, 100, 40+70*x, 650, 10+20*x
			boost = 140 * math.Min(1, 3*x)
		case t < 84:
			rpm, speed = 800+5*math.Sin(9*t), 110-1.1*(t-30)-0.003*(t-30)*(t-30)
		default:
			rpm, fuel, speed = 800, 0.8, 40
		}
		probe += (gas - probe) * 0.1 / 1.2
		manifold := 99 + boost + 0.2*math.Sin(float64(i))
		if hangs && t > 10 && t < 26 {
			manifold = 99
		}
		fmt.Fprintf(&b, "%.1f,%.1f,%.0f,%.2f,99.0,%.2f,%.2f,%.2f,%.2f,%.2f\n", t, rpm, pedal, speed, manifold, 97.5+1.4*boost+0.1*math.Sin(7*t), 0.0002*rpm*(100+boost)/2, fuel, probe)
	}
	return b.String()
}

// sensorsLake ingests the bench's log with a sheet, a mapping and a vehicle as stated.
func sensorsLake(t *testing.T, log, sheet, mapping, vehicle string) (lake, run string) {
	t.Helper()
	lake, logs := filepath.Join(t.TempDir(), "lake"), t.TempDir()
	dynolake(t, "init", "--lake", lake, "--quiet")
	for name, text := range map[string]string{
		filepath.Join(logs, "a.csv"):                           log,
		filepath.Join(logs, "a.run.yaml"):                      "vehicle: bench-1\ntest: coast\n" + sheet,
		filepath.Join(lake, "config", "mappings", "zero.yaml"): mapping,
		filepath.Join(lake, "config", "vehicles.yaml"):         "vehicles:\n  - id: bench-1\n    mass: 1500 kg\n" + vehicle,
	} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	dynolake(t, "ingest", "--lake", lake, "--quiet", logs)
	rows := askJSON(t, lake, "--sql", "SELECT run_id FROM runs")
	if len(rows) != 1 {
		t.Fatalf("%d runs", len(rows))
	}
	return lake, rows[0].text("run_id")
}

func found(t *testing.T, lake string) map[string]row {
	t.Helper()
	out := map[string]row{}
	for _, r := range askJSON(t, lake, "--sql", "SELECT code, channel, value, unit, t0_s, t1_s, text FROM findings ORDER BY code, channel") {
		out[r.text("code")+" "+r.text("channel")] = r
	}
	return out
}

const zeroMapping = "mappings:\n  - {header: Turbine inlet pressure, column: turbine_in_kpa, unit: kPa, reference: absolute, zero: key-on}\n"

func about(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %g, want %g ± %g", what, got, want, tolerance)
	}
}

// A zero is told always, taken off where a mapping or the sheet asks for it, and never taken off what export --raw gives.
func TestZerosOfARun(t *testing.T) {
	const atRest = "SELECT avg(turbine_in_kpa) AS p FROM samples WHERE t_s < 5"
	for name, c := range map[string]struct {
		sheet, mapping string
		want           float64
	}{"left alone": {"", "mappings: []\n", 97.5}, "by a mapping": {"", zeroMapping, 99}, "by the sheet": {"zero: turbine_in_kpa\n", "mappings: []\n", 99}} {
		lake, run := sensorsLake(t, bench(false), c.sheet, c.mapping, "")
		f := found(t, lake)
		about(t, name+": zero", f["sensor_zero turbine_in_kpa"].num("value"), -1.5, 0.02)
		about(t, name+": stored", askJSON(t, lake, "--sql", atRest)[0].num("p"), c.want, 0.02)
		if _, ok := f["zero_corrected turbine_in_kpa"]; ok != (c.want == 99) {
			t.Errorf("%s: zero_corrected told: %t", name, ok)
		}
		out := filepath.Join(t.TempDir(), "raw.csv")
		dynolake(t, "export", "--lake", lake, "--raw", "--as", "csv", "--out", out, run)
		raw, err := os.ReadFile(out)
		if err != nil || !strings.Contains(string(raw), "Turbine inlet pressure,kPa abs,0,97.5,") {
			t.Errorf("%s: the raw export does not begin with 97.5 (%v)\n%.400s", name, err, raw)
		}
	}
}

// A stuck manifold pressure is told with its time, a sound one is not.
func TestAStuckChannelOfARun(t *testing.T) {
	lake, _ := sensorsLake(t, bench(true), "", "mappings: []\n", "")
	stuck := found(t, lake)["channel_stuck map_kpa"]
	about(t, "from", stuck.num("t0_s"), 10, 0.2)
	about(t, "to", stuck.num("t1_s"), 26, 0.2)
	lake, _ = sensorsLake(t, bench(false), "", "mappings: []\n", "")
	for code := range found(t, lake) {
		if strings.HasPrefix(code, "channel_") {
			t.Errorf("%s in a sound log", code)
		}
	}
}

// What a vehicle's entry and the sheet ask for: a probe's lag, a coastdown's force, humidity from a dew point.
func TestAskedOfARun(t *testing.T) {
	lake, run := sensorsLake(t, bench(false), "ambient: 20 °C\ndew_point: 9.5 °C\n", "mappings: []\n", "    lag: {turbine_in_c: correct}\n")
	f := found(t, lake)
	about(t, "lag", f["lag_estimated turbine_in_c"].num("value"), 1.2, 0.1)
	about(t, "humidity", askJSON(t, lake, "--sql", "SELECT humidity_pct FROM runs")[0].num("humidity_pct"), 50.77, 0.02) // 40 CFR 1065.645.
	// 80 km/h after 25.5 s: the deceleration is 1.1 + 0.006·25.5 km/h/s.
	about(t, "force", f["coastdown_fit vehicle_speed_kmh"].num("value"), 1500*1.03*(1.1+0.006*25.5)/3.6, 12)
	fast := askJSON(t, lake, "--sql", "SELECT turbine_in_c AS probe, turbine_in_fast_c AS gas FROM samples WHERE t_s BETWEEN 31.45 AND 31.55")[0]
	if math.Abs(fast.num("gas")-200) > 40 || fast.num("probe") < 300 {
		t.Errorf("1.5 s after the pedal: probe %g, corrected %g, the gas is at 200", fast.num("probe"), fast.num("gas"))
	}
	if shown := string(dynolake(t, "runs", "show", run, "--lake", lake, "--format", "csv")); !strings.Contains(shown, "coastdown_fit") || !strings.Contains(shown, "road_load: [") {
		t.Error("runs show does not tell the coastdown")
	}
}
