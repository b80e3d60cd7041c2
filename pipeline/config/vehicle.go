package config

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

// What holds for diesel fuel where a vehicle says nothing (common practice, no source).
const (
	FuelDensity = 0.835 // kg/L.
	FuelStoich  = 14.5  // Air over fuel, by mass.
)

// list opens a file's one list, named like the file.
func list(root entry.Value, name string) ([]*entry.Form, *entry.Form) {
	f := entry.NewForm(root)
	f.Close(name)
	var forms []*entry.Form
	for _, item := range f.List(name) {
		forms = append(forms, entry.NewForm(item))
	}
	return forms, f
}

// known reports a fault in the id that an entry goes by, or one that an earlier entry has.
func known(f *entry.Form, id string, seen map[string]entry.Position) {
	if id == "" {
		if f.Err() == nil {
			f.Fail(f.Value.At, "id", "found an entry without id: want one, such as id: van-1")
		}
		return
	}
	key := strings.ToLower(id)
	if at, ok := seen[key]; ok {
		f.Fail(f.At("id"), "id", "found %q a second time: line %d has it already", id, at.Line)
	}
	seen[key] = f.At("id")
}

func (c *Config) readVehicles(root entry.Value) error {
	forms, top := list(root, "vehicles")
	errs := []error{top.Err()}
	seen := map[string]entry.Position{}
	for _, f := range forms {
		v := vehicle(f)
		known(f, v.ID, seen)
		errs = append(errs, f.Err())
		c.Vehicles = append(c.Vehicles, Vehicle{v, Fingerprint(v), f.Value.At.String()})
		for _, part := range [][2]string{{"platform", v.Platform}, {"duty", v.Duty}} {
			if part[1] == "" {
				c.doubt(f.Value.At, "vehicle_incomplete", v.ID, fmt.Sprintf("vehicle %q has no %s: comparisons by %[2]s leave it out; add it (duty is light or heavy)", v.ID, part[0]))
			}
		}
	}
	return errors.Join(errs...)
}

func vehicle(f *entry.Form) schema.Vehicle {
	f.Close("id", "platform", "duty", "displacement", "cylinders", "strokes", "rated_power", "rated_speed", "fuel", "gear_ratios", "final_drive",
		"rolling_radius", "driveline_efficiency", "volumetric_efficiency", "mass", "road_load", "turbo", "charge_cooling", "ignition", "aspiration", "stroke", "tyres", "lag", "accuracy", "note")
	v := schema.Vehicle{
		ID: f.Text("id"), Platform: f.Text("platform"), Duty: f.Word("duty", "light", "heavy"),
		DisplacementL:        f.Number("displacement", entry.Want{Unit: "L", Low: 0.1, High: 120, Example: "2.2 L"}),
		Cylinders:            whole(f, "cylinders", 1, 24),
		Strokes:              whole(f, "strokes", 2, 4),
		RatedPowerKW:         f.Number("rated_power", entry.Want{Unit: "kW", Low: 1, High: 5000, Example: "120 kW"}),
		RatedSpeedRPM:        f.Number("rated_speed", entry.Want{Unit: "rpm", Low: 100, High: 12000, Example: "3500 rpm"}),
		FinalDrive:           f.Number("final_drive", entry.Want{Unit: "1", Low: 0.2, High: 60, Example: "3.73"}),
		RollingRadiusM:       f.Number("rolling_radius", entry.Want{Unit: "m", Low: 0.05, High: 2, Example: "0.33 m"}),
		DrivelineEfficiency:  f.Number("driveline_efficiency", entry.Want{Unit: "1", Low: 0.3, High: 1, Example: "0.88 or 88 %"}),
		VolumetricEfficiency: f.Number("volumetric_efficiency", entry.Want{Unit: "1", Low: 0.2, High: 1.3, Example: "0.9 or 90 %"}),
		MassKg:               f.Number("mass", entry.Want{Unit: "kg", Low: 50, High: 250000, Example: "1850 kg"}),
		RoadLoad:             f.Polynomial("road_load"),
		ChargeCooling:        f.Word("charge_cooling", "air", "liquid", "none"),
		Ignition:             f.Word("ignition", "compression", "spark"),
		Aspiration:           f.Word("aspiration", "turbo", "mechanical", "natural"),
		StrokeMM:             f.Number("stroke", entry.Want{Unit: "mm", Low: 20, High: 700, Example: "96 mm"}),
		Tyres:                whole(f, "tyres", 1, 60),
	}
	if v.Strokes == 3 {
		f.Fail(f.At("strokes"), "strokes", "found %q: want 4 or 2", f.Text("strokes"))
	}
	if v.Strokes == 0 {
		v.Strokes = 4
	}
	if v.ChargeCooling == "" {
		v.ChargeCooling = "air"
	}
	v.GearRatios = gears(f)
	fuel(f, &v)
	turbo(f, &v)
	lags(f, &v)
	accuracies(f, &v)
	return v
}

func whole(f *entry.Form, name string, low, high float64) int {
	x := f.Number(name, entry.Want{Unit: "1", Low: low, High: high, Example: strconv.Itoa(int(high))})
	if x != math.Trunc(x) {
		f.Fail(f.At(name), name, "found %q: want a whole number", f.Text(name))
	}
	return int(x)
}

// gears reads the ratios from first gear up, which fall.
func gears(f *entry.Form) []float64 {
	var ratios []float64
	for i, item := range f.List("gear_ratios") {
		r, err := entry.Quantity(item.Text, entry.Want{Unit: "1", Low: 0.1, High: 30, Example: "[4.0, 2.2, 1.4, 1.0]"})
		switch {
		case item.Kind != entry.Scalar:
			f.Fail(item.At, "gear_ratios", "found no number: want a list such as [4.0, 2.2, 1.4, 1.0], first gear first")
		case err != nil:
			f.Fail(item.At, "gear_ratios", "%w", err)
		case i > 0 && len(ratios) == i && r.Value >= ratios[i-1]:
			f.Fail(item.At, "gear_ratios", "found %q after %.4g: want ratios that fall, first gear first", item.Text, ratios[i-1])
		default:
			ratios = append(ratios, r.Value)
		}
	}
	return ratios
}

func fuel(f *entry.Form, v *schema.Vehicle) {
	v.FuelDensityKgL, v.FuelStoichRatio = FuelDensity, FuelStoich
	field, ok := f.Value.Field("fuel")
	if !ok || field.Value.Kind == entry.Null {
		return
	}
	if field.Value.Kind == entry.Scalar && strings.EqualFold(field.Value.Text, "diesel") {
		return
	}
	g := entry.NewForm(field.Value)
	g.Rename(map[string]string{"stoichiometric": "stoichiometric_ratio", "stoich_ratio": "stoichiometric_ratio", "stoich": "stoichiometric_ratio", "lower_heating_value": "heating_value", "lhv": "heating_value"})
	g.Close("density", "stoichiometric_ratio", "heating_value")
	if x := g.Number("density", entry.Want{Unit: "kg/L", Low: 0.5, High: 1.2, Example: "0.835 kg/L"}); x > 0 {
		v.FuelDensityKgL = x
	}
	if x := g.Number("stoichiometric_ratio", entry.Want{Unit: "1", Low: 5, High: 20, Example: "14.5"}); x > 0 {
		v.FuelStoichRatio = x
	}
	v.FuelHeatingMJKg = g.Number("heating_value", entry.Want{Unit: "MJ/kg", Low: 15, High: 60, Example: "42.8 MJ/kg"})
	f.Adopt(g)
}

func turbo(f *entry.Form, v *schema.Vehicle) {
	field, ok := f.Value.Field("turbo")
	if !ok || field.Value.Kind == entry.Null {
		return
	}
	g := entry.NewForm(field.Value)
	g.Rename(map[string]string{"compressor": "compressor_wheel", "compressor_wheel_size": "compressor_wheel", "turbine": "turbine_wheel", "turbine_wheel_size": "turbine_wheel", "map": "map_file"})
	g.Close("compressor_wheel", "turbine_wheel", "map_file")
	wheel := entry.Want{Unit: "mm", Low: 10, High: 1000, Example: "62 mm"}
	v.CompressorWheelMM, v.TurbineWheelMM = g.Number("compressor_wheel", wheel), g.Number("turbine_wheel", wheel)
	v.MapFile = g.Text("map_file")
	f.Adopt(g)
}
