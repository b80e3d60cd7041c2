package demo

import (
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Vehicles come and go with the repeats: each stays for ten, and repeats that the scale does not have are the first six vehicles'.
func TestVehiclesComeAndGo(t *testing.T) {
	m := Default()
	m.Scale = 133
	vehicles := map[string]bool{}
	for _, v := range m.vehicles() {
		vehicles[v.id] = true
	}
	if len(vehicles) != 84 {
		t.Errorf("%d vehicles at scale 133, want 14 times six", len(vehicles))
	}
	for _, c := range []struct {
		scale, repeat int
		suffix        string
	}{
		{133, 0, ""}, {133, 9, ""}, {133, 10, "-02"}, {133, 19, "-02"}, {133, 20, "-03"}, {133, 132, "-14"}, {133, 133, ""}, {133, 1004, ""},
		{1, 0, ""}, {1, 10, ""}, {1, 1000, ""}, {10, 9, ""}, {11, 10, "-02"}, {2000, 1500, "-151"},
	} {
		m.Scale = c.scale
		seen := map[string]bool{}
		for _, p := range m.repeats(c.repeat, c.repeat+1) {
			seen[p.v.id] = true
			if p.v.id != p.v.like+c.suffix || !strings.HasPrefix(p.name(), p.v.id+"-") {
				t.Fatalf("scale %d, repeat %d: %s like %s drives %s, want the suffix %q", c.scale, c.repeat, p.v.id, p.v.like, p.name(), c.suffix)
			}
		}
		if len(seen) != 6 {
			t.Errorf("scale %d, repeat %d: %d vehicles, want six", c.scale, c.repeat, len(seen))
		}
	}
}

// A further vehicle has the make-up and the visits of the one whose place it takes, and differs from it by what units differ, every time alike.
func TestFurtherVehiclesAreOfTheSameMakeUp(t *testing.T) {
	m := Default()
	m.Scale = 40
	own, again := m.fleet(0), m.fleet(2)
	for i, v := range m.fleet(2) {
		o := own[i]
		if v.like != o.id || v.platform != o.platform || v.basis != o.basis || v.exhaust != o.exhaust || v.turbo.inertia != o.turbo.inertia || !slices.Equal(v.steps, o.steps) {
			t.Errorf("%s is of another make-up than %s", v.id, o.id)
		}
		for name, f := range map[string][2]float64{
			"torque": {v.engine.torque.at(2000) / o.engine.torque.at(2000), torqueScatter}, "flow": {v.turbo.flow / o.turbo.flow, flowScatter},
			"efficiency": {v.turbo.efficiency / o.turbo.efficiency, efficiencyScatter},
		} {
			if off := math.Abs(f[0] - 1); off == 0 || off > 2*f[1]+1e-12 {
				t.Errorf("%s: %s is %g of the first's", v.id, name, f[0])
			}
		}
		if a := again[i]; a.turbo != v.turbo || a.engine.torque.at(2000) != v.engine.torque.at(2000) {
			t.Errorf("%s is another one at a second call", v.id)
		}
	}
	count := func(repeat int) map[string]int {
		n := map[string]int{}
		for _, p := range m.repeats(repeat, repeat+1) {
			n[p.v.like+" "+p.kind+fmt.Sprint(p.step, p.part, len(p.gains))]++
		}
		return n
	}
	if a, b := count(3), count(23); !maps.Equal(a, b) {
		t.Errorf("visits of the first vehicles %v, of further ones %v", a, b)
	}
}

// The truck's bus database and the sheets lie where the logs of a further vehicle do.
func TestFurtherVehiclesLogs(t *testing.T) {
	m := Default()
	m.Scale = 11
	dir := t.TempDir()
	var some []plan
	for _, p := range m.repeats(10, 11) {
		if (p.v.like == "invented-truck-e" && p.step == 3 || p.v.like == "invented-van-d" && p.step == 0) && p.kind == "sweep" {
			some = append(some, p)
		}
	}
	w := newWriter(m, dir, some)
	if err := w.all(t.Context(), func(p plan) error {
		_, err := w.logs(p)
		return err
	}); err != nil {
		t.Fatal(err)
	}
	for pattern, want := range map[string]int{
		"invented-truck-e-02/invented-cell.dbc": 1, "invented-truck-e-02/invented-truck-e-02_*.log": 2, "invented-truck-e-02/runs.csv": 1,
		"invented-van-d-02/*.run.yaml": 2, "invented-van-d-02/runs.csv": 0, "*": 2,
	} {
		if found, err := filepath.Glob(filepath.Join(dir, "logs", pattern)); err != nil || len(found) != want {
			t.Errorf("%s: %v, %v, want %d", pattern, found, err, want)
		}
	}
	text, err := os.ReadFile(filepath.Join(dir, "logs", "invented-truck-e-02", "runs.csv"))
	if err != nil || !strings.Contains(string(text), ",invented-truck-e-02,step3,") {
		t.Errorf("run sheet: %v %s", err, text)
	}
}

// The configuration names every vehicle, the shorter list is how the longer one begins, and both are known as the demo's own.
func TestConfigNamesEveryVehicle(t *testing.T) {
	lists := map[int]string{}
	for scale, want := range map[int]struct {
		vehicles int
		says     string
	}{1: {6, ": six vehicles on"}, 10: {6, ": six vehicles on"}, 11: {12, ": 12 vehicles on"}, 133: {84, ": 84 vehicles on"}} {
		m, dir := Default(), t.TempDir()
		m.Scale = scale
		if err := m.WriteConfig(dir); err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(filepath.Join(dir, "config", "vehicles.yaml"))
		readme, err2 := os.ReadFile(filepath.Join(dir, "README.txt"))
		if err != nil || err2 != nil || !strings.Contains(string(readme), want.says) || strings.Count(string(text), "- id: ") != want.vehicles || !OwnVehicles(text) {
			t.Errorf("scale %d: %v %v, %d vehicles, own %v, want %d and %q in\n%s", scale, err, err2, strings.Count(string(text), "- id: "), OwnVehicles(text), want.vehicles, want.says, readme)
		}
		lists[scale] = string(text)
	}
	if lists[1] != string(whole(t).files["config/vehicles.yaml"]) || lists[1] != lists[10] || !strings.HasPrefix(lists[133], lists[11]) || !strings.HasPrefix(lists[11], lists[1]) {
		t.Error("the lists of vehicles do not begin alike")
	}
	for name, text := range map[string]string{
		"none": "", "a shop's": "vehicles:\n  - id: van-x\n    platform: mine\n    duty: light\n", "changed": strings.Replace(lists[11], "135 kW", "136 kW", 1),
		"longer": lists[1] + "  - id: van-x\n    platform: mine\n    duty: light\n", "cut": lists[11][:len(lists[11])-40],
	} {
		if OwnVehicles([]byte(text)) {
			t.Errorf("%s: the list is taken for the demo's own", name)
		}
	}
}
