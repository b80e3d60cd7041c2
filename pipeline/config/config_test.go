package config

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dynolake/schema"
)

func folder(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func must(t *testing.T, files map[string]string) Config {
	t.Helper()
	c, err := Load(folder(t, files))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestMissingFilesAreEmpty(t *testing.T) {
	for _, dir := range []string{t.TempDir(), filepath.Join(t.TempDir(), "none"), folder(t, Starters())} {
		c, err := Load(dir)
		if err != nil || len(c.Vehicles)+len(c.Dynos)+len(c.Limits)+len(c.Findings) != 0 || c.Location.String() != "UTC" {
			t.Errorf("Load = %+v, %v, want an empty configuration in UTC", c, err)
		}
	}
}

// What the starter files show must work once its comment marks are taken off.
func TestStartersWorkUncommented(t *testing.T) {
	files := Starters()
	for name, text := range files {
		_, body, ok := strings.Cut(text, "\n\n")
		if !ok {
			t.Fatalf("%s has no entry after a blank line", name)
		}
		files[name] = regexp.MustCompile(`(?m)^# ([a-z ])`).ReplaceAllStringFunc(body, func(s string) string { return s[2:] })
	}
	files["lake.yaml"] = "timezone: UTC\n"
	c := must(t, files)
	if len(c.Vehicles) != 2 || len(c.Dynos) != 2 || len(c.Limits) != 4 || len(c.Columns) != 2 || len(c.Findings)+len(c.Problems) != 0 {
		t.Errorf("got %d vehicles, %d dynos, %d limits, %d columns and %v %v", len(c.Vehicles), len(c.Dynos), len(c.Limits), len(c.Columns), c.Findings, c.Problems)
	}
}

func TestUnitsBecomeStoredOnes(t *testing.T) {
	c := must(t, map[string]string{
		"lake.yaml": "timezone: Europe/Vienna\n",
		"vehicles.yaml": `vehicles:
  - id: v1
    platform: p
    Duty: Light
    displacement: 134.3 in3
    cylinders: 4
    rated power: 150 hp
    rated_speed: 3.5 krpm
    fuel: {density: 840 kg/m3, heating_value: 42800 kJ/kg}
    gear_ratios: [4, 2.2, "1,4", 1]
    final_drive: 3.73
    rolling_radius: 13 in
    driveline_efficiency: 88 %
    volumetric_efficiency: 0.9
    mass: 4000 lb
    road_load: [30 lbf, 0.5 N/(m/s), 0.02 lbf/mph^2]
    turbo: {compressor: 2 in, map_file: a.csv}
    charge_cooling: liquid
`,
		"dynos.yaml": "dynos: [{id: d1, kind: Inertia, inertia: 20 kg·m2, roller_radius: 30 cm, friction: [120 N, 0.9 N/(km/h), 0.03 N/(km/h)^2]}, {id: d2, kind: brake, equivalent_mass: 1.2 t}]\n",
		"limits.yaml": `limits:
  - {column: turbine_in_c, max: 1436 °F}
  - {column: boost_kpa, max: 34 psi, vehicle: v1}
  - {column: engine_speed_rpm, max: 3500 rpm, min: 600}
`,
	})
	v, ok := c.Vehicle("V1")
	if !ok || c.Location.String() != "Europe/Vienna" {
		t.Fatalf("vehicle %v, zone %v", ok, c.Location)
	}
	want := schema.Vehicle{
		ID: "v1", Platform: "p", Duty: "light", DisplacementL: 134.3 * 0.016387064, Cylinders: 4, Strokes: 4, RatedPowerKW: 150 * 0.7456998715822702, RatedSpeedRPM: 3500,
		FuelDensityKgL: 0.84, FuelStoichRatio: 14.5, FuelHeatingMJKg: 42.8, GearRatios: []float64{4, 2.2, 1.4, 1}, FinalDrive: 3.73, RollingRadiusM: 13 * 0.0254,
		DrivelineEfficiency: 0.88, VolumetricEfficiency: 0.9, MassKg: 4000 * 0.45359237, CompressorWheelMM: 50.8, MapFile: "a.csv", ChargeCooling: "liquid",
		RoadLoad: []float64{30 * 4.4482216152605, 0.5 / 3.6, 0.02 * 4.4482216152605 / (1.609344 * 1.609344)},
	}
	near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) <= 1e-12*math.Max(math.Abs(a), math.Abs(b)) })
	if d := cmp.Diff(want, v.Vehicle, near); d != "" {
		t.Error(d)
	}
	d, _ := c.Dyno("d1")
	if diff := cmp.Diff(schema.Dyno{ID: "d1", Kind: "inertia", EquivalentMassKg: 20 / 0.09, Friction: []float64{120, 0.9, 0.03}}, d.Dyno, near); diff != "" {
		t.Error(diff)
	}
	if d, ok := c.Dyno("brake"); !ok || d.Kind != "brake" || d.ID != "" {
		t.Errorf("Dyno(brake) = %+v, %v", d, ok)
	}
	if _, ok := c.Dyno("d9"); ok {
		t.Error("an unlisted dyno is found")
	}
	for i, want := range []float64{780, 34 * 6.894757293168361, 3500} {
		if math.Abs(c.Limits[i].Max-want) > 1e-9 {
			t.Errorf("limit %d = %v, want %v", i, c.Limits[i].Max, want)
		}
	}
	if l, ok := c.LimitFor("boost_kpa", "v1", "p", "light", "sweep"); !ok || !math.IsNaN(l.Min) {
		t.Errorf("LimitFor = %+v, %v", l, ok)
	}
}

func TestFaultsSayWhereAndWhat(t *testing.T) {
	for _, c := range []struct{ file, text, want string }{
		{"vehicles.yaml", "vehicles:\n  - id: a\n    rolling_radius: 0.3 kg\n", `vehicles.yaml:3:21 rolling_radius: found "0.3 kg": kg is a mass, want a length such as 0.33 m`},
		{"vehicles.yaml", "vehicles:\n  - id: a\n    displacment: 2 L\n", `vehicles.yaml:3:5 displacment: found the unknown field "displacment": did you mean "displacement"?`},
		{"vehicles.yaml", "vehicles:\n  - id: a\n    duty: medium\n", `vehicles.yaml:3:11 duty: found "medium": want one of light, heavy`},
		{"vehicles.yaml", "vehicles:\n  - id: a\n    mass: -1500 kg\n", `vehicles.yaml:3:11 mass: found "-1500 kg", which is -1500 kg: want 50 to 250000`},
		{"vehicles.yaml", "vehicles:\n  - id: a\n    mass: 0\n", `vehicles.yaml:3:11 mass: found "0"`},
		{"vehicles.yaml", "vehicles:\n  - id: a\n    displacement: 2200\n", `vehicles.yaml:3:19 displacement: found "2200", which is 2200 L`},
		{"vehicles.yaml", "vehicles:\n  - id: a\n    gear_ratios: [4, 5, 1]\n", `vehicles.yaml:3:22 gear_ratios: found "5" after 4: want ratios that fall`},
		{"vehicles.yaml", "vehicles:\n  - id: a\n    road_load: [120 N, 0.9 N, 1]\n", `vehicles.yaml:3:24 road_load: found "0.9 N": coefficient 2 wants a unit of force over speed, such as N/(km/h)`},
		{"vehicles.yaml", "vehicles:\n  - id: a\n    road_load: [-120 N, 0.9]\n", `vehicles.yaml:3:16 road_load: found a force of -120 N at 0 km/h`},
		{"vehicles.yaml", "vehicles:\n  - id: a\n  - id: A\n", `vehicles.yaml:3:9 id: found "A" a second time: line 2 has it already`},
		{"vehicles.yaml", "vehicles:\n  - platform: p\n", `vehicles.yaml:2:5 id: found an entry without id`},
		{"vehicles.yaml", "vehicles:\n  - id: a\n    mass: 1\n    mass: 2\n", `vehicles.yaml:4:5: read YAML: mapping key "mass" already defined`},
		{"vehicles.yaml", "vehicles: [1, 2\nx: 1", `vehicles.yaml:2:1: read YAML`},
		{"vehicles.yaml", "cars:\n  - id: a\n", `vehicles.yaml:1:1 cars: found the unknown field "cars"`},
		{"vehicles.yaml", "vehicles:\n  - id: a\n    fuel: petrol\n", `vehicles.yaml:3:11: found "petrol": want fields`},
		{"vehicles.yaml", "vehicles:\n  - id: a\n    fuel: {stoich: 14.4, stoichiometric_ratio: 14.5}\n", `vehicles.yaml:3:12 stoich: found "stoich" beside "stoichiometric_ratio", which both mean stoichiometric_ratio: want one`},
		{"dynos.yaml", "dynos:\n  - id: d\n    kind: inertial\n", `dynos.yaml:3:11 kind: found "inertial": did you mean "inertia"?`},
		{"dynos.yaml", "dynos:\n  - id: d\n", `dynos.yaml:2:5 kind: found a dyno without kind`},
		{"dynos.yaml", "dynos:\n  - {id: d, kind: brake, inertia: 20}\n", `dynos.yaml:2:35 inertia: found no roller_radius`},
		{"dynos.yaml", "dynos:\n  - {id: d, kind: brake, inertia: 20, roller_radius: 0.3, equivalent_mass: 300}\n", `equivalent_mass: found "300", but inertia and roller_radius give 222.22 kg`},
		{"limits.yaml", "limits:\n  - {column: turbin_in_c, max: 780}\n", `limits.yaml:2:14 column: found the unknown column "turbin_in_c": did you mean "turbine_in_c"?`},
		{"limits.yaml", "limits:\n  - {column: map_kpa, max: 34 psig}\n", `limits.yaml:2:28 max: found "34 psig", a gauge pressure: want an absolute one`},
		{"limits.yaml", "limits:\n  - {column: boost_kpa, max: 34 psia}\n", `limits.yaml:2:30 max: found "34 psia", an absolute pressure: want a difference pressure`},
		{"limits.yaml", "limits:\n  - {column: map_kpa, note: x}\n", `found no bound on map_kpa`},
		{"limits.yaml", "limits:\n  - {column: coolant_c, max: 80, min: 90}\n", `found "90", above the max of "80"`},
		{"limits.yaml", "limits:\n  - {column: coolant_c, max: 80}\n  - {column: coolant_c, max: 90}\n", `limits.yaml:3:5: found a second limit of coolant_c for the same runs: line 2`},
		{"lake.yaml", "timezone: Mars/Base\n", `lake.yaml:1:11 timezone: found "Mars/Base": want a zone's name`},
		{"lake.yaml", "timezone: Local\n", `found "Local"`},
	} {
		_, err := Load(folder(t, map[string]string{c.file: c.text}))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q:\n got %v\nwant %s", c.text, err, c.want)
		}
	}
}

func TestEveryFaultIsToldAtOnce(t *testing.T) {
	_, err := Load(folder(t, map[string]string{"vehicles.yaml": "vehicles:\n  - {id: a, mass: x, duty: y}\n  - {id: b, mass: z}\n", "lake.yaml": "zone: UTC"}))
	if n := strings.Count(err.Error(), "\n") + 1; n != 4 {
		t.Errorf("got %d faults, want 4:\n%v", n, err)
	}
}

func TestDoubtsDoNotStop(t *testing.T) {
	c := must(t, map[string]string{
		"vehicles.yaml": "vehicles: [{id: van-1}]",
		"limits.yaml":   "limits:\n  - {column: map_kpa, max: 34 psi, vehicle: van-2}\n  - {column: turbine_in_c, max: 1436}\n",
	})
	var codes []string
	for _, f := range c.Findings {
		codes = append(codes, f.Code)
	}
	want := []string{"vehicle_incomplete", "vehicle_incomplete", "limit_reference_assumed", "limit_implausible", "limit_of_unknown_vehicle"}
	if d := cmp.Diff(want, codes); d != "" {
		t.Error(d)
	}
	if got := c.Limits[0].Max; math.Abs(got-34*6.894757293168361) > 1e-9 {
		t.Errorf("34 psi on an absolute column = %v kPa", got)
	}
}

func TestFingerprintFollowsMeaningAlone(t *testing.T) {
	print := func(text string) string {
		v, _ := must(t, map[string]string{"vehicles.yaml": text}).Vehicle("a")
		return v.Fingerprint
	}
	base := print("vehicles: [{id: a, displacement: 2.2 L, duty: light}]")
	if same := print("# more\nvehicles:\n  - {id: b}\n  - duty: light\n    displacement: 2.2\n    id: a\n"); same != base || base == "" {
		t.Errorf("another order, a unit left out or a neighbour changed the fingerprint: %q %q", base, same)
	}
	if other := print("vehicles: [{id: a, displacement: 2.3 L, duty: light}]"); other == base {
		t.Error("another displacement has the same fingerprint")
	}
	if v, ok := must(t, nil).Vehicle("a"); ok || v.Fingerprint != "" || v.ID != "a" {
		t.Errorf("an unlisted vehicle is %+v, %v", v, ok)
	}
}
