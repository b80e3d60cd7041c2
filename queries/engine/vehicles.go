package engine

import (
	"strconv"
	"strings"

	"dynolake/schema"
)

// vehicleColumns are the columns of the vehicles view: the keys of vehicles.yaml with their stored units.
func vehicleColumns() []Column {
	return []Column{
		{"id", "VARCHAR", "", "the vehicle's id, as vehicles.yaml has it"},
		{"vehicle", "VARCHAR", "", "the same under the name that runs have, to join by"},
		{"platform", "VARCHAR", "", "vehicles of one make-up"},
		{"duty", "VARCHAR", "", "light or heavy"},
		{"displacement_l", "DOUBLE", "L", "swept volume"},
		{"cylinders", "INTEGER", "1", "number of cylinders"},
		{"strokes", "INTEGER", "1", "strokes a cycle"},
		{"rated_power_kw", "DOUBLE", "kW", "rated engine power"},
		{"rated_speed_rpm", "DOUBLE", "rpm", "engine speed at rated power"},
		{"fuel_density_kg_l", "DOUBLE", "kg/L", "density of the fuel"},
		{"fuel_stoich_ratio", "DOUBLE", "1", "air over fuel at stoichiometry"},
		{"fuel_heating_mj_kg", "DOUBLE", "MJ/kg", "lower heating value of the fuel"},
		{"gear_ratios", "DOUBLE[]", "1", "ratio of each gear, first gear first"},
		{"final_drive_ratio", "DOUBLE", "1", "ratio of the final drive"},
		{"rolling_radius_m", "DOUBLE", "m", "rolling radius of the driven tyres"},
		{"driveline_efficiency_frac", "DOUBLE", "1", "wheel power over engine power"},
		{"volumetric_efficiency_frac", "DOUBLE", "1", "air drawn in over air displaced"},
		{"mass_kg", "DOUBLE", "kg", "mass of the vehicle"},
		{"road_load", "DOUBLE[]", "", "force coefficients: N, N/(km/h), N/(km/h)^2"},
		{"compressor_wheel_mm", "DOUBLE", "mm", "compressor wheel diameter"},
		{"turbine_wheel_mm", "DOUBLE", "mm", "turbine wheel diameter"},
		{"map_file", "VARCHAR", "", "file of the compressor's map"},
		{"charge_cooling", "VARCHAR", "", "air, liquid or none"},
		{"ignition", "VARCHAR", "", "compression or spark"},
		{"aspiration", "VARCHAR", "", "turbo, mechanical or natural"},
		{"stroke_mm", "DOUBLE", "mm", "stroke of the piston"},
		{"tyres", "INTEGER", "1", "tyres on the road"},
	}
}

// vehiclesView is the query of the vehicles view. What a vehicle does not state is NULL.
func vehiclesView(vehicles []schema.Vehicle) string {
	rows := make([][]string, len(vehicles))
	for i, v := range vehicles {
		rows[i] = vehicleRow(v)
	}
	return valuesView(vehicleColumns(), rows)
}

func vehicleRow(v schema.Vehicle) []string {
	return []string{
		stated(v.ID), stated(v.ID), stated(v.Platform), stated(v.Duty), figure(v.DisplacementL), figure(float64(v.Cylinders)), figure(float64(v.Strokes)),
		figure(v.RatedPowerKW), figure(v.RatedSpeedRPM), figure(v.FuelDensityKgL), figure(v.FuelStoichRatio), figure(v.FuelHeatingMJKg),
		figures(v.GearRatios), figure(v.FinalDrive), figure(v.RollingRadiusM), figure(v.DrivelineEfficiency), figure(v.VolumetricEfficiency),
		figure(v.MassKg), figures(v.RoadLoad), figure(v.CompressorWheelMM), figure(v.TurbineWheelMM), stated(v.MapFile), stated(v.ChargeCooling),
		stated(v.Ignition), stated(v.Aspiration), figure(v.StrokeMM), figure(float64(v.Tyres)),
	}
}

func stated(s string) string {
	if s == "" {
		return "NULL"
	}
	return text(s)
}

func figure(x float64) string {
	if x == 0 {
		return "NULL"
	}
	return strconv.FormatFloat(x, 'e', -1, 64)
}

func figures(list []float64) string {
	if len(list) == 0 {
		return "NULL"
	}
	texts := make([]string, len(list))
	for i, x := range list {
		texts[i] = strconv.FormatFloat(x, 'e', -1, 64)
	}
	return "[" + strings.Join(texts, ", ") + "]"
}
