package mapping

import (
	"testing"

	"dynolake/schema"
)

// The names that bus logs give SAE J1939 parameters and OBD PIDs; those that resemble a column and are another thing stay out.
func TestBusNames(t *testing.T) {
	for _, c := range []struct{ name, unit, column string }{
		{"Engine speed", "rpm", "engine_speed_rpm"}, {"EngSpeed", "rpm", "engine_speed_rpm"},
		{"Accelerator pedal position 1", "%", "pedal_pct"}, {"Engine percent load at current speed", "%", "load_pct"},
		{"Intake manifold 1 pressure", "kPa gauge", "map_kpa"}, {"Intake manifold 1 absolute pressure", "kPa abs", "map_kpa"}, {"Intake manifold 1 temperature", "°C", "charge_c"},
		{"Air inlet pressure", "kPa abs", "inlet_kpa"}, {"Exhaust gas temperature", "°C", "turbine_in_c"}, {"EngExhaustGasTemp", "deg C", "turbine_in_c"},
		{"Exhaust gas pressure 1", "kPa", "turbine_in_kpa"}, {"Turbocharger 1 compressor intake temperature", "°C", "inlet_c"},
		{"Turbocharger 1 turbine intake temperature", "°C", "turbine_in_c"}, {"Turbocharger 1 turbine outlet temperature", "°C", "turbine_out_c"},
		{"Turbocharger 1 compressor outlet temperature", "°C", "compressor_out_c"}, {"Charge air cooler 1 outlet temperature", "°C", "charge_c"},
		{"Turbocharger 1 speed", "rpm", "turbo_speed_rpm"}, {"Variable geometry turbocharger actuator 1 position", "%", "vane_pct"},
		{"Aftertreatment 1 diesel particulate filter differential pressure", "kPa", "dpf_delta_kpa"}, {"Diesel particulate filter 1 intake temperature", "°C", "dpf_in_c"},
		{"Diesel particulate filter active regeneration status", "", "regen_frac"}, {"Aftertreatment 1 intake NOx", "ppm", "nox_ppm"},
		{"Engine fuel rate", "L/h", "fuel_kg_h"}, {"Injector metering rail 1 pressure", "MPa", "rail_kpa"}, {"Engine intake air mass flow rate", "kg/h", "maf_g_s"},
		{"Wheel-based vehicle speed", "km/h", "vehicle_speed_kmh"}, {"Transmission current gear", "", "gear"}, {"Torque converter lockup engaged", "", "converter_locked_frac"},
		{"Transmission output shaft speed", "rpm", "output_shaft_rpm"}, {"Battery potential", "V", "battery_v"}, {"Engine torque", "N·m", "engine_torque_nm"},
		{"Turbocharger compressor inlet pressure", "kPa abs", "inlet_kpa"}, {"Commanded boost pressure", "kPa", "map_set_kpa"}, {"Actual EGR", "%", "egr_pct"},
		{"Fuel rail gauge pressure", "kPa gauge", "rail_kpa"}, {"Commanded fuel rail pressure", "kPa", "rail_set_kpa"}, {"Fuel mass per stroke", "mg/stroke", "inj_mg"},
		{"Actual engine percent torque", "%", ""}, {"Engine reference torque", "N·m", ""}, {"Freeze frame: Engine speed", "rpm", ""}, {"Commanded lambda", "", ""},
		{"Diesel particulate filter 1 intake pressure", "kPa", ""}, {"Diesel particulate filter 1 outlet pressure", "kPa", ""}, {"Diesel particulate filter 1 outlet temperature", "°C", ""},
		{"Exhaust gas recirculation 1 mass flow rate", "kg/h", ""}, {"Engine exhaust flow rate", "kg/h", ""}, {"Aftertreatment 1 outlet NOx", "ppm", ""}, {"Transmission input shaft speed", "rpm", ""},
		{"Engine total fuel used", "L", ""}, {"Turbine inlet temperature B", "°C", ""}, {"Fuel rail temperature", "°C", ""}, {"Frames", "1/s", ""},
	} {
		log := schema.Log{Source: "bus.log", Series: []schema.Series{{Group: schema.Group{Channels: []schema.Channel{{Name: c.name, Unit: c.unit}}}, T: []float64{0, 1}, Values: [][]float64{{1, 1}}}}}
		if got := ByName([]schema.Log{log}, Rules{}, Context{})[0]; got.Column != c.column {
			t.Errorf("%q [%s] becomes %q, want %q: %s", c.name, c.unit, got.Column, c.column, got.Why)
		}
	}
}
