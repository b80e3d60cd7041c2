package mapping

import (
	"math"
	"testing"

	"dynolake/schema"
)

// logOf makes a log of one series whose channels hold plausible numbers for their columns.
func logOf(header, unit string, values ...float64) schema.Log {
	if values == nil {
		values = []float64{50, 51, 52, 53, 54}
	}
	t := make([]float64, len(values))
	for i := range t {
		t[i] = float64(i) / 10
	}
	return schema.Log{Source: "a.csv", Series: []schema.Series{{Group: schema.Group{Channels: []schema.Channel{{Name: header, Unit: unit}}}, T: t, Values: [][]float64{values}}}}
}

func claimOf(t *testing.T, header, unit string, values ...float64) schema.Claim {
	t.Helper()
	claims := ByName([]schema.Log{logOf(header, unit, values...)}, Rules{}, Context{})
	if len(claims) != 1 {
		t.Fatalf("%q: %d claims, want 1", header, len(claims))
	}
	return claims[0]
}

// Headers as recorders of several dialects write them, invented; the unit "" means that none was given beside the name.
func TestNames(t *testing.T) {
	for _, c := range []struct{ header, unit, want string }{
		// Engine speed.
		{"Engine RPM", "rpm", "engine_speed_rpm"}, {"EngSpeed", "rpm", "engine_speed_rpm"}, {"ENGINE_SPEED", "1/min", "engine_speed_rpm"},
		{"Motordrehzahl", "U/min", "engine_speed_rpm"}, {"Drehzahl [1/min]", "", "engine_speed_rpm"}, {"nEngine", "rpm", "engine_speed_rpm"},
		{"n", "1/min", "engine_speed_rpm"}, {"Engine Speed (rpm)", "", "engine_speed_rpm"}, {"engine_speed_rpm", "", "engine_speed_rpm"},
		{"EEC1_EngSpeed", "rpm", "engine_speed_rpm"}, {"ECU Engine Speed", "rpm", "engine_speed_rpm"}, {"Eng. Speed", "krpm", "engine_speed_rpm"},
		{"n in rpm", "", "engine_speed_rpm"}, {"n_in_rpm", "", "engine_speed_rpm"}, {"enginespeed", "rpm", "engine_speed_rpm"}, {"Crankshaft speed sensor", "rpm", "engine_speed_rpm"},
		{"n_mot", "1/min", "engine_speed_rpm"}, {"Engine Speed (ES)", "rpm", "engine_speed_rpm"},
		// Pedal and load.
		{"Accelerator pedal position D", "%", "pedal_pct"}, {"Accel Pedal Pos", "%", "pedal_pct"}, {"APP", "%", "pedal_pct"}, {"Fahrpedalstellung", "%", "pedal_pct"},
		{"AccelPedalPos1", "%", "pedal_pct"}, {"pedal_pct", "", "pedal_pct"}, {"Pedal Position [%]", "", "pedal_pct"}, {"Absolute pedal position D", "%", "pedal_pct"},
		{"Calculated engine load value", "%", "load_pct"}, {"EngPercentLoadAtCurrentSpeed", "%", "load_pct"}, {"Engine Load", "%", "load_pct"}, {"Torque request", "%", "load_pct"},
		// Torque and power.
		{"Tq_eng", "Nm", "engine_torque_nm"}, {"Actual Engine Torque", "lb-ft", "engine_torque_nm"}, {"ECU Torque", "Nm", "engine_torque_nm"},
		{"Torque", "ft-lb", "torque_nm"}, {"Dyno Torque (Nm)", "", "torque_nm"}, {"Drehmoment", "Nm", "torque_nm"},
		{"Hub Torque", "Nm", "wheel_torque_nm"}, {"Wheel Torque", "N·m", "wheel_torque_nm"}, {"Power", "kW", "wheel_power_kw"}, {"Radleistung", "PS", "wheel_power_kw"},
		{"WHP", "", "wheel_power_kw"}, {"Wheel Power [hp]", "", "wheel_power_kw"}, {"Leistung (kW)", "", "wheel_power_kw"}, {"Uncorrected power", "hp", "wheel_power_kw"}, {"P_wheel", "kW", "wheel_power_kw"}, {"M_wheel", "Nm", "wheel_torque_nm"}, {"F_roller", "N", "roller_force_n"}, {"Wheel HP", "hp", "wheel_power_kw"},
		// Fuel.
		{"Engine fuel rate", "l/h", "fuel_kg_h"}, {"FC-Map", "g/h", "fuel_kg_h"}, {"fuel_rate_kg_per_h", "", "fuel_kg_h"}, {"inj_qty_mg_per_stk", "", "inj_mg"}, {"maf_g_per_s", "", "maf_g_s"}, {"vehicle_speed_km_per_h", "", "vehicle_speed_kmh"}, {"Eng_FuelFlow_Direct_DI[ccps]", "", "fuel_kg_h"}, {"EngFuelRate", "L/h", "fuel_kg_h"},
		{"Fuel Flow", "lb/h", "fuel_kg_h"}, {"fuel_kg_h", "", "fuel_kg_h"}, {"Fuel Rate (gal/hr)", "", "fuel_kg_h"},
		{"Injected quantity", "mg/stk", "inj_mg"}, {"Einspritzmenge", "mm3/stk", "inj_mg"}, {"Inj Qty [mg/hub]", "", "inj_mg"}, {"Main Injection Quantity", "mm³/stk", "inj_mg"},
		{"Rail pressure actual", "bar", "rail_kpa"}, {"FRP", "MPa", "rail_kpa"}, {"Raildruck Ist", "bar", "rail_kpa"}, {"Fuel rail pressure (absolute)", "kPa", "rail_kpa"},
		{"Rail Pressure Desired", "psi", "rail_set_kpa"}, {"Raildruck Soll", "bar", "rail_set_kpa"}, {"Rail press. cmd", "MPa", "rail_set_kpa"}, {"FuelRailPressSetpoint", "bar", "rail_set_kpa"},
		// Air pressures.
		{"Barometric pressure", "kPa", "baro_kpa"}, {"BARO", "inHg", "baro_kpa"}, {"Umgebungsdruck", "mbar", "baro_kpa"}, {"BarometricPress", "hPa", "baro_kpa"}, {"Luftdruck", "hPa", "baro_kpa"},
		{"Compressor inlet pressure", "kPa", "inlet_kpa"}, {"TurboInletPress", "psia", "inlet_kpa"},
		{"Intake manifold absolute pressure", "kPa", "map_kpa"}, {"MAP", "kPa", "map_kpa"}, {"Boost (psi)", "", "map_kpa"}, {"boost_psi", "", "map_kpa"}, {"Boost Pressure", "bar", "map_kpa"},
		{"Ladedruck Ist", "mbar", "map_kpa"}, {"MAPkPa", "", "map_kpa"}, {"Actual Boost Pressure", "hPa", "map_kpa"}, {"boostpsi", "", "map_kpa"}, {"Total Boost", "psi", "map_kpa"},
		{"EngIntakeManifold1Press", "kPa", "map_kpa"}, {"Manifold Pressure [kPa abs]", "", "map_kpa"}, {"Gauge Boost", "psig", "map_kpa"}, {"Boost Press. (A)", "kPa", "map_kpa"},
		{"Desired Boost", "psi", "map_set_kpa"}, {"Ladedruck Soll", "mbar", "map_set_kpa"}, {"Boost Target", "bar", "map_set_kpa"}, {"BoostPressSetpoint", "hPa", "map_set_kpa"},
		{"Compressor discharge pressure", "kPa", "compressor_out_kpa"}, {"P2", "bar", "compressor_out_kpa"}, {"Pre-intercooler pressure", "psi", "compressor_out_kpa"},
		{"Turbo Boost", "psi", "map_kpa"}, {"p_boost", "bar", "map_kpa"}, {"Intake Manifold Absolute Pressure (MAP)", "kPa", "map_kpa"}, {"MAP desired", "kPa", "map_set_kpa"}, {"p_baro", "hPa", "baro_kpa"},
		// Air temperatures.
		{"IAT", "°F", "inlet_c"}, {"Intake air temperature", "℃", "inlet_c"}, {"Ansauglufttemperatur", "°C", "inlet_c"}, {"Compressor Inlet Temp", "degC", "inlet_c"},
		{"Compressor Outlet Temp", "C", "compressor_out_c"}, {"T2", "°C", "compressor_out_c"}, {"Charge air temp", "°F", "charge_c"}, {"IAT2", "°C", "charge_c"}, {"Ladelufttemperatur", "°C", "charge_c"},
		{"EngIntakeManifold1Temp", "deg C", "charge_c"}, {"Intercooler outlet temp.", "°C", "charge_c"},
		{"MAF air flow rate", "g/sec", "maf_g_s"}, {"EngIntakeAirMassFlowRate", "kg/h", "maf_g_s"}, {"Luftmasse", "kg/h", "maf_g_s"}, {"MAF [lb/min]", "", "maf_g_s"}, {"Mass Air Flow", "g/s", "maf_g_s"},
		{"Lambda", "", "lambda_ratio"}, {"λ", "-", "lambda_ratio"}, {"Wideband lambda 1", "-", "lambda_ratio"},
		{"EGR valve position", "%", "egr_pct"}, {"Commanded EGR", "%", "egr_pct"}, {"VGT Position", "%", "vane_pct"}, {"VNT pos", "%", "vane_pct"}, {"Vane opening", "%", "vane_pct"},
		{"VGT desired", "%", "vane_set_pct"}, {"Turbo Speed", "krpm", "turbo_speed_rpm"}, {"Turboladerdrehzahl", "1/min", "turbo_speed_rpm"}, {"EngTurbocharger1Speed", "rpm", "turbo_speed_rpm"},
		// Exhaust.
		{"Drive Pressure", "psi", "turbine_in_kpa"}, {"Exhaust Manifold Pressure", "kPa", "turbine_in_kpa"}, {"P3", "bar", "turbine_in_kpa"}, {"Pre-turbine pressure", "psig", "turbine_in_kpa"}, {"EBP", "psi", "turbine_in_kpa"},
		{"Abgasdruck vor Turbine", "mbar", "turbine_in_kpa"}, {"EGT", "°F", "turbine_in_c"}, {"EGT 1", "°C", "turbine_in_c"}, {"EGT pre turbo", "°C", "turbine_in_c"}, {"Abgastemperatur vor Turbine", "°C", "turbine_in_c"}, {"T3", "°C", "turbine_in_c"},
		{"Turbine Outlet Pressure", "kPa", "turbine_out_kpa"}, {"P4", "kPa", "turbine_out_kpa"}, {"Downpipe temperature", "°C", "turbine_out_c"}, {"EGT post turbo", "°F", "turbine_out_c"},
		{"DPF differential pressure", "hPa", "dpf_delta_kpa"}, {"Differenzdruck Partikelfilter", "mbar", "dpf_delta_kpa"}, {"Diesel Particulate Filter Diff Press", "inH2O", "dpf_delta_kpa"}, {"DPF dP", "psi", "dpf_delta_kpa"},
		{"Aftrtrtmnt1DslPrtcltFltrDiffPress", "kPa", ""}, {"Exhaust system back pressure", "inH2O", "exhaust_total_kpa"}, {"DPF inlet temp", "°C", "dpf_in_c"}, {"Aftertreatment1ExhaustGasTemp1", "deg C", "dpf_in_c"},
		{"p_turb_in", "kPa", "turbine_in_kpa"}, {"P_turbine_in_kPa_abs", "", "turbine_in_kpa"}, {"T_turbine_in_C", "", "turbine_in_c"}, {"p_turb_in_kPa", "", "turbine_in_kpa"}, {"TurbineIn_kPa", "", "turbine_in_kpa"}, {"Turbine In psig", "", "turbine_in_kpa"}, {"Abgasdruck vor Turbine in mbar", "", "turbine_in_kpa"}, {"T_dpf_in_degC", "", "dpf_in_c"}, {"T_turb_out", "°C", "turbine_out_c"}, {"EXH_MAN_PRESS", "kPa", "turbine_in_kpa"}, {"Exhaust Manifold Pressure (EMP)", "psi", "turbine_in_kpa"}, {"Exhaust gas temp. before particle filter", "°C", "dpf_in_c"},
		{"Soot mass", "g", "soot_g"}, {"Regeneration status", "", "regen_frac"}, {"NOx", "ppm", "nox_ppm"},
		{"ECT", "°C", "coolant_c"}, //nolint:misspell // The trade's abbreviation.
		// Units of signs at a name's end.
		{"Boost kgf/cm²", "", "map_kpa"}, {"Fuel_mm3/stk", "", ""}, {"Vehicle Speed m/s", "", "vehicle_speed_kmh"}, {"Fuel Rate_cm3/s", "", "fuel_kg_h"},
		// French and Spanish.
		{"Régime moteur", "tr/min", "engine_speed_rpm"}, {"Pression de suralimentation", "mbar", "map_kpa"}, {"Débit d'air", "kg/h", "maf_g_s"}, {"Température eau", "°C", "coolant_c"}, {"Vitesse véhicule", "km/h", "vehicle_speed_kmh"},
		{"Position pédale", "%", "pedal_pct"}, {"Couple moteur", "Nm", "engine_torque_nm"}, {"Pression rail consigne", "bar", "rail_set_kpa"}, {"Température échappement avant turbine", "°C", "turbine_in_c"}, {"Puissance roues", "ch", "wheel_power_kw"},
		{"Presión de sobrealimentación", "mbar", "map_kpa"}, {"Régimen motor", "rpm", "engine_speed_rpm"}, {"Caudal de aire", "kg/h", "maf_g_s"}, {"Temperatura refrigerante", "°C", "coolant_c"}, {"Velocidad vehículo", "km/h", "vehicle_speed_kmh"},
		{"Kraftstoffverbrauch", "L/h", "fuel_kg_h"}, {"Wandlerüberbrückung", "", "converter_locked_frac"},
		{"RPM x1000", "", "engine_speed_rpm"}, {"pUmg", "mbar", "baro_kpa"}, {"VGT % open", "", "vane_pct"},
		// Vehicle, dyno, ambient.
		{"Vehicle speed", "km/h", "vehicle_speed_kmh"}, {"speed_mph", "", "vehicle_speed_kmh"}, {"cycMps", "", "vehicle_speed_kmh"}, {"v", "km/h", "vehicle_speed_kmh"}, {"WheelBasedVehicleSpeed", "km/h", "vehicle_speed_kmh"}, {"Geschwindigkeit", "km/h", "vehicle_speed_kmh"},
		{"VSS", "mph", "vehicle_speed_kmh"}, {"Fahrzeuggeschwindigkeit", "km/h", "vehicle_speed_kmh"}, {"Gear", "", "gear"}, {"Gang", "-", "gear"}, {"Current Gear", "", "gear"}, {"TCC", "", "converter_locked_frac"}, {"Lock-up", "", "converter_locked_frac"},
		{"Output Shaft Speed", "rpm", "output_shaft_rpm"}, {"Dyno_Spd[mph]", "", "roller_speed_kmh"}, {"Roller Speed", "km/h", "roller_speed_kmh"}, {"Rollengeschwindigkeit", "km/h", "roller_speed_kmh"}, {"Tractive Effort", "N", "roller_force_n"}, {"Roller force", "lbf", "roller_force_n"},
		{"Ambient air temperature", "°C", "ambient_c"}, {"Umgebungstemperatur", "°C", "ambient_c"}, {"Relative humidity", "%", "humidity_pct"}, {"Luftfeuchte", "%", "humidity_pct"},
		{"Engine coolant temperature", "°F", "coolant_c"}, {"Kühlmitteltemperatur", "°C", "coolant_c"}, {"CoolantTemp", "degF", "coolant_c"}, {"coolant_c", "", "coolant_c"},
		{"EngOilTemp1", "deg C", "oil_c"}, {"Öltemperatur", "°C", "oil_c"}, {"Oil Pressure", "psi", "oil_kpa"}, {"Öldruck", "bar", "oil_kpa"}, {"Getriebeöltemperatur", "°C", "trans_c"}, {"Trans Fluid Temp", "°F", "trans_c"},
		{"Battery voltage", "V", "battery_v"}, {"Batteriespannung", "mV", "battery_v"}, {"Control module voltage", "V", "battery_v"},
	} {
		if got := claimOf(t, c.header, c.unit); got.Column != c.want {
			t.Errorf("%q [%s] became %q (%s), want %q", c.header, c.unit, got.Column, got.Why, c.want)
		}
	}
}

// Names that resemble a column and are none.
func TestRefusals(t *testing.T) {
	for _, c := range []struct{ header, unit string }{
		{"Average speed", "km/h"}, {"Average fuel consumption", "l/100km"}, {"Distance travelled (total)", "km"}, {"Fuel used (total)", "l"}, {"Calculated instant fuel consumption", "l/100km"},
		{"Calculated instant fuel rate", "l/h"}, {"Instant engine power (based on fuel consumption)", "hp"}, {"Fuel used price", "€"}, {"Vehicle acceleration", "m_sec2"}, {"Max boost", "psi"},
		{"Min oil pressure", "psi"}, {"Trip fuel", "L"}, {"Odometer", "km"}, {"Fuel economy", "mpg"}, {"GPS altitude", "m"}, {"Boost pressure limit", "kPa"}, {"Rail pressure error", "bar"}, {"EGR error", "%"},
		{"Corrected power", "kW"}, {"Power (SAE)", "hp"}, {"Power corr.", "PS"}, {"Engine power", "kW"}, {"Pe_eng", "kW"}, {"Pe_full", "kW"}, {"Tq_full", "Nm"}, {"Tq_drag", "Nm"}, {"Tq_clutch", "Nm"},
		{"Mfull", "Nm"}, {"Friction torque", "Nm"}, {"Reference torque", "Nm"}, {"ActualEngPercentTorque", "%"}, {"Front wheel speed", "km/h"}, {"Rear axle temperature", "°C"}, {"Oil temperature", "psi"},
		{"Coolant pressure", "kPa"}, {"Fuel temperature", "°C"}, {"Fan speed", "rpm"}, {"Fuel pump speed", "rpm"}, {"Idle speed setpoint", "rpm"}, {"Engine speed limit", "rpm"}, {"Gear ratio", "-"},
		{"Converter slip", "rpm"}, {"Soot load", "%"}, {"AFR", "-"}, {"Lambda", "AFR"}, {"Lambda [AFR]", ""}, {"Air Fuel Ratio", ""}, {"A/F", ""}, {"Lambda setpoint", "-"}, {"Boost", "V"}, {"MAP", "V"}, {"Speed", "rpm"}, {"Power", "V"}, {"Load", "kg"}, {"Torque", "%"},
		{"Input shaft speed", "rpm"}, {"Fuel level", "%"}, {"Fuel delivery pressure", "kPa"}, {"Wastegate position", "%"}, {"Cylinder pressure", "bar"}, {"Distance to empty", "km"}, {"MAF voltage", "V"}, {"n", ""}, {"v", ""}, {"P2", ""},
		{"NOx downstream", "ppm"}, {"Aftertreatment1ExhaustGasTemp3", "deg C"}, {"EGT 2", "°C"}, {"Vehicle mass", "kg"}, {"Battery current", "A"}, {"Steering angle", "°"}, {"vair_res", "km/h"}, {"Padd", "kW"}, {"Paux", "kW"}, {"Aux_Alt", "kW"}, {"cycGrade", ""}, {"Boost duty", "%"}, {"P_eng", "kW"}, {"Engine Power (calculated)", "kW"}, {"Fuel consumption", ""}, {"Fuel consumption", "mpg"},
		{"Boost (max)", "psi"}, {"Desired idle speed", "rpm"}, {"Torque loss", "Nm"}, {"Drum torque", "Nm"}, {"Dyno RPM", "rpm"}, {"Turbo 2 speed", "rpm"}, {"Low pressure turbine inlet pressure", "kPa"}, {"EGT spread", "°C"},
		{"Delta boost", "kPa"}, {"Rail pressure regulator current", "mA"}, {"TCC pressure", "psi"}, {"Distance since last regeneration", "km"}, {"Battery temp", "°C"}, {"EGR temp", "°C"}, {"Wheel speed FL", "km/h"}, {"Exhaust mass flow", "kg/h"},
	} {
		if got := claimOf(t, c.header, c.unit); got.Column != "" || got.Why == "" {
			t.Errorf("%q [%s] became %q (%s), want none and a reason", c.header, c.unit, got.Column, got.Why)
		}
	}
}

// Scales by the exact factors of NIST SP 811 (2008) app. B.8.
func TestScales(t *testing.T) {
	for _, c := range []struct {
		header, unit  string
		logged, want  float64
		absoluteGauge schema.Reference
	}{
		{"Boost", "psi", 25, 172.369, ""}, {"Boost kgf/cm²", "", 1, 98.0665, ""}, {"Boost kgf/cm2_abs", "", 1, 98.0665, schema.Absolute}, {"Injection Quantity mm³/stk", "", 60, 50.1, ""}, {"Power ch", "", 250, 183.8747, ""}, {"Speed m/s", "", 10, 36, ""}, {"Boost", "psig", 25, 172.369, schema.Gauge}, {"MAP (abs)", "inHg", 29.92, 101.3207, schema.Absolute}, {"boost_psia", "", 25, 172.369, schema.Absolute},
		{"Manifold Pressure", "bar g", 1.5, 150, schema.Gauge}, {"Manifold pressure abs. [bar]", "", 2.5, 250, schema.Absolute}, {"Relative boost", "mbar", 1500, 150, schema.Gauge}, {"Boost", "bar rel", 1.5, 150, schema.Gauge}, {"Boost", "kPa(abs)", 150, 150, schema.Absolute}, {"MAP_kPa_abs", "", 180, 180, schema.Absolute},
		{"Engine speed", "krpm", 2.5, 2500, ""}, {"Coolant temp", "°F", 77, 25, ""}, {"EGT", "K", 298.15, 25, ""}, {"speed_mph", "", 60, 96.56064, ""}, {"cycMps", "", 10, 36, ""},
		{"MAF", "lb/min", 45, 340.194, ""}, {"MAF", "kg/h", 360, 100, ""}, {"Fuel rate", "L/h", 10, 8.35, ""}, {"Fuel flow", "g/h", 2500, 2.5, ""}, {"Fuel rate", "gal/h", 10, 31.60819, ""}, {"Fuel flow [ccps]", "", 1, 3.006, ""},
		{"Injection quantity", "mm3/stk", 60, 50.1, ""}, {"Torque", "lb-ft", 300, 406.7454, ""}, {"Power", "hp", 250, 186.425, ""}, {"Power", "PS", 250, 183.8747, ""}, {"Rail pressure", "MPa", 120, 120000, ""},
		{"Soot mass", "g", 12, 12, ""}, {"VGT opening", "%", 30, 70, ""}, {"Vane position open", "%", 100, 0, ""}, {"VNT position (0=closed)", "%", 30, 70, ""}, {"VNT position (100=open) [%]", "", 30, 70, ""}, {"VGT 100% = closed", "%", 30, 30, ""}, {"VGT pos (0%: open)", "%", 30, 30, ""}, {"VGT % open", "", 30, 70, ""}, {"Vane position (% closed)", "", 30, 30, ""}, {"RPM x1000", "", 2.5, 2500, ""}, {"VGT position closed", "%", 30, 30, ""}, {"Converter lock", "%", 100, 1, ""},
	} {
		got := claimOf(t, c.header, c.unit, c.logged, c.logged)
		if stored := c.logged*got.Scale + got.Offset; math.Abs(stored-c.want) > 1e-5*math.Abs(c.want)+1e-9 || got.Reference != c.absoluteGauge {
			t.Errorf("%q [%s]: %v became %v (%q, %s: %s), want %v (%q)", c.header, c.unit, c.logged, stored, got.Reference, got.Column, got.Why, c.want, c.absoluteGauge)
		}
	}
}
