package demo

import "slices"

const label = "INVENTED DATA - made by a model, measured on nothing"

// dynoOnly are the columns that exist on rollers alone.
var dynoOnly = [...]string{"roller_speed_kmh", "roller_force_n", "wheel_torque_nm", "wheel_power_kw", "torque_nm"}

// plain is the dialect the others depart from.
func plain() dialect {
	return dialect{delimiter: ",", units: "[", clock: "s", timeName: "Time", encoding: "utf8"}
}

// recorders lists the loggers of a run. Each make-up has its own shop habits, which change with time.
func (m Model) recorders(p plan) []recorder {
	var out []recorder
	switch p.v.like {
	case "invented-car-a":
		out = m.carA(p)
	case "invented-car-b":
		out = []recorder{carB(p)}
	case "invented-van-c":
		out = []recorder{vanC(p)}
	case "invented-van-d":
		out = []recorder{vanD(p)}
	case "invented-truck-e":
		out = []recorder{truckE(p)}
	default:
		out = []recorder{truckF(p)}
	}
	if p.kind != "road" && p.kind != "coast" {
		return out
	}
	for i := range out {
		r := &out[i]
		r.channels = slices.DeleteFunc(r.channels, func(c channel) bool { return slices.Contains(dynoOnly[:], c.column) })
		if p.v.drive.automatic {
			r.hurry()
		}
	}
	return slices.DeleteFunc(out, func(r recorder) bool { return r.suffix == "-dyno" })
}

// hurry logs what tells a shift at 50 Hz, as a logger on the bus does, and drops some of the rest.
func (r *recorder) hurry() {
	if r.form == "paired" || r.form == "mdf4" || r.form == "j1939" {
		for i, c := range r.channels {
			if c.column == "engine_speed_rpm" || c.column == "gear" || c.column == "converter_locked_frac" || c.column == "pedal_pct" {
				r.channels[i].rate = 50
			}
		}
		return
	}
	r.rate = 50
	r.channels = slices.DeleteFunc(r.channels, func(c channel) bool {
		switch c.column {
		case "engine_speed_rpm", "pedal_pct", "map_kpa", "baro_kpa", "gear", "converter_locked_frac", "vehicle_speed_kmh", "turbine_in_kpa", "coolant_c", "trans_c":
			return false
		}
		return true
	})
}

// carA has a scan tool that asks for one channel after the other, the dyno's own export and, later on, a pressure logger. No
// two of them share a clock.
func (m Model) carA(p plan) []recorder {
	r := m.rng(p.name() + "/clocks")
	scan := recorder{form: "long", suffix: "-scan", ending: ".csv", rate: 6.5, begin: 0.3 * r.Float64(), base: 15 + 60*r.Float64()}
	scan.dialect = dialect{delimiter: ";", units: "column", clock: "s", timeName: "time", encoding: "utf8", quoted: true}
	scan.channels = []channel{
		ch("Engine speed", "rpm", "engine_speed_rpm").steps(0.25).digits(2),
		ch("Accelerator pedal position", "%", "pedal_pct").steps(0.392157),
		ch("Intake manifold absolute pressure", "kPa", "map_kpa").steps(1).digits(0),
		ch("Vehicle speed", "km/h", "vehicle_speed_kmh").steps(1).digits(0),
		ch("Mass air flow rate", "g/s", "maf_g_s"),
		ch("Engine fuel rate", "L/h", "fuel_kg_h").steps(0.05),
		ch("DPF differential pressure", "kPa", "dpf_delta_kpa"),
		ch("Charge air temperature", "°C", "charge_c").steps(1).digits(0).at(1),
		ch("Engine coolant temperature", "°C", "coolant_c").steps(1).digits(0).at(0.5),
		ch("Intake air temperature", "°C", "inlet_c").steps(1).digits(0).at(0.5),
		ch("Barometric pressure", "kPa", "baro_kpa").steps(1).digits(0).at(0.5),
		ch("Fuel rail gauge pressure", "kPa", "rail_kpa").steps(10).digits(0),
		odd("Cylinder balance 3", "mg").at(2),
	}
	in, total := ch("Exhaust pressure", "kPa", "turbine_in_kpa").steps(0.25), ch("Exhaust system pressure", "kPa", "exhaust_total_kpa")
	dyno := recorder{form: "wide", suffix: "-dyno", ending: ".csv", rate: 20, begin: 1.1 * r.Float64(), dialect: plain()}
	dyno.quoted = true
	dyno.channels = []channel{
		ch("Engine speed", "rpm", "engine_speed_rpm"), ch("Roller speed", "km/h", "roller_speed_kmh"), ch("Lambda", "-", "lambda_ratio"),
		ch("Cell temperature", "°C", "ambient_c"), ch("Relative humidity", "%", "humidity_pct"),
	}
	if p.step < 2 {
		scan.channels = append(scan.channels, in, total)
		return []recorder{scan, dyno}
	}
	dyno.form, dyno.ending = "workbook", ".xlsx"
	extra := recorder{form: "wide", suffix: "-press", ending: ".txt", rate: 40, begin: 0.9 * r.Float64(), base: 3 + 200*r.Float64(), dialect: plain()}
	extra.delimiter, extra.clock, extra.timeName = "|", "ms", "t"
	extra.channels = []channel{
		ch("Engine rpm", "rpm", "engine_speed_rpm"), ch("Exhaust manifold pressure", "bar abs", "turbine_in_kpa"), ch("Exhaust system pressure", "mbar", "exhaust_total_kpa"),
	}
	if p.step == 2 {
		return []recorder{scan, dyno, extra}
	}
	extra.form, extra.ending, extra.clock = "mdf4", ".mf4", "s"
	bus := recorder{form: "obd", suffix: "-bus", ending: ".log", rate: 10, begin: 0.4 * r.Float64(), dialect: plain()}
	for _, c := range scan.channels {
		if asksFor(c.column) {
			c.quantum = 0 // What the answer's bits can tell.
			bus.channels = append(bus.channels, c)
		}
	}
	scan.channels = slices.DeleteFunc(scan.channels, func(c channel) bool { return c.column != "engine_speed_rpm" && asksFor(c.column) })
	return []recorder{scan, dyno, extra, bus}
}

// asksFor reports whether the scan tool asks for a column over the bus.
func asksFor(column string) bool {
	is := func(p pid) bool { return p.place.column == column }
	return slices.ContainsFunc(fastPIDs[:], is) || slices.ContainsFunc(slowPIDs[:], is)
}

// carB has one box that logs everything with decimal commas. Its software was changed twice.
func carB(p plan) recorder {
	r := recorder{form: "wide", ending: ".csv", rate: 20, dialect: dialect{
		delimiter: ";", comma: true, units: "row", clock: "s", timeName: "Zeit", encoding: "cp1252", crlf: true,
		preamble: []string{label, "Messung: Leistungsprüfstand, erfundenes Fahrzeug B", "Abtastrate: 20 Hz", ""},
	}}
	r.channels = []channel{
		ch("Drehzahl", "1/min", "engine_speed_rpm"), ch("Fahrpedal", "%", "pedal_pct"), ch("Ladedruck", "mbar", "map_kpa"), ch("Luftdruck", "mbar", "baro_kpa"),
		ch("Turbine inlet pressure", "mbar", "turbine_in_kpa"), ch("Turbine outlet pressure", "mbar", "turbine_out_kpa"), ch("Differenzdruck DPF", "mbar", "dpf_delta_kpa"),
		ch("Luftmasse", "kg/h", "maf_g_s"), ch("Einspritzmenge", "mg/Hub", "inj_mg"), ch("Lambda", "-", "lambda_ratio"), ch("Raildruck", "bar", "rail_kpa").digits(1),
		ch("Ansauglufttemperatur", "°C", "inlet_c"), ch("Ladelufttemperatur", "°C", "charge_c"), ch("Kuehlmitteltemperatur", "°C", "coolant_c"),
		ch("Turbine inlet temperature", "°C", "turbine_in_c"), odd("Temperatur", "°C"), odd("Temperatur", "°C"),
		ch("Compressor inlet pressure", "mbar", "inlet_kpa"), ch("P2", "mbar", "compressor_out_kpa"), ch("T2", "°C", "compressor_out_c"), ch("Pre DPF temperature", "°C", "dpf_in_c"),
		ch("Fahrgeschwindigkeit", "km/h", "vehicle_speed_kmh"), ch("Rollenspeed", "km/h", "roller_speed_kmh"), ch("Power", "kW", "wheel_power_kw"),
	}
	switch p.step {
	case 2:
		r.encoding, r.units, r.repeated, r.preamble = "bom", "[", true, nil
	case 3:
		r.encoding, r.delimiter, r.clock, r.timeName, r.crlf = "utf16le", "\t", "stamp", "Zeitstempel", false
		r.preamble = r.preamble[:1]
	}
	return r
}

// vanC is logged in US units, boost and exhaust over barometric; it has no power channel, only force and speed.
func vanC(p plan) recorder {
	r := recorder{form: "wide", ending: ".txt", rate: 25, dialect: dialect{
		delimiter: "\t", units: "(", clock: "m:s", timeName: "Elapsed Time", encoding: "utf8", states: true, trailing: true, blanks: 0.004,
	}}
	r.channels = []channel{
		ch("Engine RPM", "rpm", "engine_speed_rpm"), ch("Accel Pedal Pos 1", "%", "pedal_pct"), ch("Boost", "psi", "map_kpa").overBaro(), ch("Baro", "inHg", "baro_kpa"),
		ch("Exhaust Back Pressure", "psi", "turbine_in_kpa").overBaro(), ch("Downpipe Pressure", "psi", "turbine_out_kpa").overBaro(), ch("DPF Delta P", "psi", "dpf_delta_kpa"),
		ch("MAF", "lb/min", "maf_g_s"), ch("Injected Quantity", "mm3/stk", "inj_mg"), ch("Wideband Lambda", "", "lambda_ratio").digits(3),
		ch("EGT 1", "°F", "turbine_in_c"), ch("IAT2", "°F", "charge_c"), ch("Coolant Temp", "°F", "coolant_c"), ch("Trans Temp", "°F", "trans_c"),
		ch("VGT Position", "%", "vane_pct"), ch("VGT Desired", "%", "vane_set_pct"), ch("VSS", "mph", "vehicle_speed_kmh"), ch("Roller Speed", "mph", "roller_speed_kmh"),
		ch("Tractive Effort", "lbf", "roller_force_n"), ch("Current Gear", "", "gear"), ch("TCC", "", "converter_locked_frac"), odd("Widget Phase", "deg"),
	}
	switch p.step {
	case 2:
		r.delimiter, r.clock, r.encoding, r.ending, r.trailing = ",", "ms", "utf16le", ".csv", false
	case 3:
		r.delimiter, r.clock, r.encoding, r.ending, r.trailing = ";", "ms", "utf16be", ".csv", false
	}
	return r
}

// vanD has no sensor after the turbine: only the gross drive pressure can be told. Its logs come packed, each time in another way.
func vanD(p plan) recorder {
	r := recorder{form: "wide", ending: ".log" + [...]string{"", ".gz", ".zst", ".zip"}[p.step], rate: 20, dialect: dialect{
		delimiter: "|", units: "[", clock: "clock", timeName: "Time", encoding: "utf8", states: true, blanks: 0.003, missing: "NaN", preamble: []string{"# " + label},
	}}
	r.channels = []channel{
		ch("Engine speed", "1/min", "engine_speed_rpm"), ch("Pedal", "%", "pedal_pct"), ch("Total boost", "kPa abs", "map_kpa"), ch("Barometer", "kPa", "baro_kpa"),
		ch("Turbine in", "kPa abs", "turbine_in_kpa"), ch("DPF dP", "kPa", "dpf_delta_kpa").digits(3), ch("Air flow", "kg/h", "maf_g_s"), ch("Fuel flow", "kg/h", "fuel_kg_h"),
		ch("Lambda value", "-", "lambda_ratio"), ch("Charge temp", "°C", "charge_c"), ch("Coolant temp", "°C", "coolant_c"), ch("Transmission temp", "°C", "trans_c"),
		ch("Rail pressure", "MPa", "rail_kpa"), ch("Rail pressure set", "MPa", "rail_set_kpa"), ch("Vehicle speed", "km/h", "vehicle_speed_kmh"),
		ch("Roller speed", "km/h", "roller_speed_kmh"), ch("WHP", "hp", "wheel_power_kw"), ch("Gear", "", "gear"), ch("Lockup", "", "converter_locked_frac"),
	}
	return r
}

// truckE is logged off the bus, each message in its own time; the dyno's power comes in on the same logger. The bus itself is
// logged later on.
func truckE(p plan) recorder {
	r := recorder{form: "paired", ending: ".csv", rate: 10, base: 12.5, dialect: plain()}
	r.preamble = []string{"# " + label}
	r.channels = []channel{
		ch("EngSpeed", "rpm", "engine_speed_rpm").at(20).steps(0.125).digits(3), ch("Accelerator Pedal Position", "%", "pedal_pct").steps(0.4).at(20),
		ch("Boost gauge", "kPa", "map_kpa").overBaro().steps(0.5), ch("Barometric pressure", "kPa", "baro_kpa").at(1),
		ch("Turbine inlet pressure", "kPa", "turbine_in_kpa"), ch("Turbine outlet pressure", "kPa", "turbine_out_kpa"), ch("DPF differential pressure", "kPa", "dpf_delta_kpa").steps(0.05),
		ch("Engine Fuel Rate", "L/h", "fuel_kg_h").steps(0.05), ch("Lambda", "-", "lambda_ratio"), ch("Charge air temperature", "°C", "charge_c").at(1),
		ch("Coolant temperature", "°C", "coolant_c").steps(1).digits(0).at(1), ch("Transmission temperature", "°C", "trans_c").at(1), ch("Oil temperature", "°C", "oil_c").at(1),
		ch("Vehicle speed", "km/h", "vehicle_speed_kmh"), ch("Current gear", "", "gear").at(10), ch("Converter locked", "", "converter_locked_frac").at(10),
		ch("Roller speed", "km/h", "roller_speed_kmh"), ch("Wheel power", "kW", "wheel_power_kw").digits(2).at(20), ch("Wheel torque", "N·m", "wheel_torque_nm").at(20), odd("Fan drive state", "V").at(2),
		ch("Compressor outlet pressure", "kPa", "compressor_out_kpa"), ch("Compressor outlet temperature", "°C", "compressor_out_c").at(1), ch("DPF inlet temperature", "°C", "dpf_in_c").at(1),
	}
	switch p.step {
	case 2:
		r.form, r.ending = "mdf4", ".mf4"
	case 3:
		r.form, r.ending, r.base = "j1939", ".log", 0
		r.channels = truckBusChannels()
	}
	return r
}

// truckBusChannels is what the truck's bus carries: its own messages and those of the test cell's boxes.
func truckBusChannels() []channel {
	return []channel{
		ch("Engine speed", "rpm", "engine_speed_rpm").at(20), ch("Accelerator pedal position", "%", "pedal_pct").at(20), ch("Intake manifold 1 absolute pressure high resolution", "kPa", "map_kpa"),
		ch("Barometric pressure", "kPa", "baro_kpa").at(1), ch("Engine intake air mass flow rate", "kg/h", "maf_g_s"), ch("Engine fuel rate", "L/h", "fuel_kg_h"),
		ch("Turbocharger compressor intake pressure", "kPa", "inlet_kpa").at(1), ch("Compressor intake temperature", "°C", "inlet_c").at(1),
		ch("Turbine intake temperature", "°C", "turbine_in_c").at(2), ch("Turbocharger 1 speed", "rpm", "turbo_speed_rpm"),
		ch("Aftertreatment 1 diesel particulate filter differential pressure", "kPa", "dpf_delta_kpa"), ch("Aftertreatment 1 exhaust gas temperature 1", "°C", "dpf_in_c").at(2),
		ch("DPF active regeneration status", "", "regen_frac").at(1), ch("Charge air cooler outlet temperature", "°C", "charge_c").at(1), ch("Coolant temperature", "°C", "coolant_c").at(1),
		ch("Oil temperature", "°C", "oil_c").at(1), ch("Transmission temperature", "°C", "trans_c").at(1), ch("Vehicle speed", "km/h", "vehicle_speed_kmh"),
		ch("Current gear", "", "gear"), ch("Converter locked", "", "converter_locked_frac"),
		ch("Turbine inlet pressure", "kPa", "turbine_in_kpa"), ch("Turbine outlet pressure", "kPa", "turbine_out_kpa"), ch("Lambda", "-", "lambda_ratio"),
		ch("Compressor outlet pressure", "kPa", "compressor_out_kpa"), ch("Compressor outlet temperature", "°C", "compressor_out_c").at(2),
		ch("Roller speed", "km/h", "roller_speed_kmh").at(20), ch("Wheel power", "kW", "wheel_power_kw").at(20), ch("Wheel torque", "N·m", "wheel_torque_nm").at(20),
	}
}

// truckF has torque at engine speed from its dyno, exhaust as one pressure for the whole system, and stamps with a zone. Its logger
// keeps columns instead of rows later on.
func truckF(p plan) recorder {
	r := recorder{form: "wide", ending: ".csv", rate: 20, dialect: plain()}
	r.clock, r.timeName, r.units = "stamp", "Timestamp", "("
	switch p.step {
	case 2:
		r.form, r.ending = "parquet", ".parquet"
	case 3:
		r.form, r.ending = "arrow", ".arrow"
	}
	r.channels = []channel{
		ch("Engine speed", "rpm", "engine_speed_rpm"), ch("Accelerator pedal", "%", "pedal_pct"), ch("Boost pressure", "bar", "map_kpa"), ch("Barometric pressure", "mbar", "baro_kpa"),
		ch("P3", "bar", "turbine_in_kpa"), ch("Exhaust system pressure", "mbar", "exhaust_total_kpa"), ch("DPF pressure drop", "mbar", "dpf_delta_kpa"),
		ch("Air mass flow", "kg/h", "maf_g_s"), ch("Fuel rate", "kg/h", "fuel_kg_h"), ch("Lambda", "-", "lambda_ratio"), ch("Intake manifold temperature", "°C", "charge_c"),
		ch("Airbox pressure", "mbar", "inlet_kpa"), ch("Compressor inlet temperature", "°C", "inlet_c"), ch("Compressor discharge pressure", "bar", "compressor_out_kpa"),
		ch("Compressor discharge temp", "°C", "compressor_out_c"), ch("EGT", "°C", "turbine_in_c"), ch("DPF inlet temp", "°C", "dpf_in_c"),
		ch("Coolant temperature", "°C", "coolant_c"), ch("Transmission temp", "°C", "trans_c"), ch("Soot load", "g", "soot_g"), ch("Regen status", "", "regen_frac").digits(0), ch("Engine torque", "Nm", "engine_torque_nm"),
		ch("Road speed", "km/h", "vehicle_speed_kmh"), ch("Dyno speed", "km/h", "roller_speed_kmh"), ch("Dyno torque", "Nm", "torque_nm"),
		ch("Gear", "", "gear"), ch("Lock-up", "", "converter_locked_frac"), ch("Battery voltage", "V", "battery_v"),
	}
	return r
}
