package delimited

import "testing"

func TestSplitName(t *testing.T) {
	for header, want := range map[string][2]string{
		"Time[s]": {"Time", "s"}, "Speed (km/h)": {"Speed", "km/h"}, "n in rpm": {"n", "rpm"}, "M_max in Nm": {"M_max", "Nm"}, "Boost, kPa": {"Boost", "kPa"},
		"FC [(g/h)/kW_rated]": {"FC", "(g/h)/kW_rated"}, "<t>": {"<t>", ""}, "<PT1> [s]": {"<PT1>", "s"}, "n [U/min]  ": {"n", "U/min"}, "Boost (abs)": {"Boost (abs)", ""},
		"Torque, engine": {"Torque, engine", ""}, "Instant engine power (based on fuel consumption)": {"Instant engine power (based on fuel consumption)", ""},
		"EGT[2]": {"EGT[2]", ""}, "Lambda [1]": {"Lambda", "1"}, "Lambda (-)": {"Lambda", "-"}, "Boost [kPa] (abs)": {"Boost (abs)", "kPa"}, "MAP (kPa abs)": {"MAP", "kPa abs"},
		"Fuel (mm3/stk)": {"Fuel", "mm3/stk"}, "Oil temp (°C)": {"Oil temp", "°C"}, "Bank 1 (B1)": {"Bank 1 (B1)", ""}, "Price (€/km)": {"Price", "€/km"}, "Engine speed (1/min)": {"Engine speed", "1/min"},
		"Drive in reverse": {"Drive in reverse", ""}, "Time (hh:mm:ss)": {"Time", "hh:mm:ss"}, "Torque (N m)": {"Torque", "N m"}, "rpm": {"rpm", ""}, "[rpm]": {"[rpm]", ""}, "Dist (km) ": {"Dist", "km"},
		"Boost psi (g)": {"Boost", "psi(g)"}, "p2, bar(a)": {"p2", "bar(a)"}, "EMP in kPa (abs)": {"EMP", "kPa(abs)"}, "Soot (g)": {"Soot", "g"}, "Pump current (A)": {"Pump current", "A"},
		"Lambda []": {"Lambda", ""}, "Pump current - mA": {"Pump current", "mA"}, "Cylinder - A": {"Cylinder - A", ""}, "": {"", ""},
	} {
		if name, unit := splitName(header); name != want[0] || unit != want[1] {
			t.Errorf("splitName(%q) = %q, %q, want %q", header, name, unit, want)
		}
	}
}

func TestTimeName(t *testing.T) {
	for name, want := range map[string]int{
		"time": 2, "t": 2, "<t>": 2, "Zeit": 2, "timestamp": 2, "SECONDS": 2, "cycSecs": 2, "cycle_sec": 2, "elapsed": 2, "Time Stamp": 2, "Frame Time": 2, "temps": 2, "Log Time": 2,
		"Time1": 2, "date": 2, "Elapsed Time": 2, "Device Time": 2, "time_ms": 2, "t_s": 2, "TIME": 2, "Uhrzeit": 2, "Messzeit": 2, "LogTime": 2, "Time since start": 2, "Date/Time": 2,
		"RPM time": 1, "Engine run time": 1, "Offset": 1, "Interval": 1, "timestep": 0, "Injection time": 0, "n": 0, "Torque": 0, "speed_mph": 0, "Temperature": 0, "Boost": 0, "": 0, "n_norm": 0,
	} {
		if got := timeName(name); got != want {
			t.Errorf("timeName(%q) = %d, want %d (%q)", name, got, want, words(name))
		}
	}
}

func TestUnitInName(t *testing.T) {
	for name, want := range map[string]string{"time_ms": "ms", "cycSecs": "secs", "SECONDS": "seconds", "t_s": "s", "Time": "", "cycle_sec": "sec", "timestamp": "", "TimeMs": "ms", "timems": "ms", "Elapsed minutes": "minutes", "t": ""} {
		if got := unitInName(name); got != want {
			t.Errorf("unitInName(%q) = %q, want %q", name, got, want)
		}
	}
}
