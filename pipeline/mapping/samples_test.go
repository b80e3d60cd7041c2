package mapping

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"dynolake/schema"
	"dynolake/schema/samples"
)

// sample reads an open sample log without the project's own reader: a long one by channel, a wide one by its first column.
func sample(t *testing.T, name string) schema.Log {
	t.Helper()
	dir := samples.Folder(t)
	data, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord = -1
	long := strings.Contains(name, "_long")
	if long {
		r.Comma = ';'
	}
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	log := schema.Log{Source: name}
	if long {
		at := map[string]int{}
		for _, row := range rows[1:] {
			k := row[1] + "|" + row[3]
			i, ok := at[k]
			if !ok {
				i = len(log.Series)
				at[k] = i
				log.Series = append(log.Series, schema.Series{Group: schema.Group{Name: row[1], Channels: []schema.Channel{{Name: row[1], Unit: row[3]}}}, Values: [][]float64{nil}})
			}
			s := &log.Series[i]
			s.T, s.Values[0] = append(s.T, num(row[0])), append(s.Values[0], num(row[2]))
		}
		return log
	}
	log.Series = []schema.Series{wide(rows)}
	return log
}

var unitBehind = regexp.MustCompile(`^(.*?)\s*\[(.*)\]$`)

func wide(rows [][]string) schema.Series {
	s := schema.Series{}
	names, body := rows[0], rows[1:]
	var units []string
	if strings.HasPrefix(body[0][0], "c [") {
		units, body = body[0], body[1:]
	}
	for c, name := range names[1:] {
		channel := schema.Channel{Name: strings.Trim(strings.TrimSpace(name), "<>")}
		if m := unitBehind.FindStringSubmatch(channel.Name); m != nil {
			channel = schema.Channel{Name: m[1], Unit: m[2]}
		}
		if units != nil {
			channel.Unit = strings.Trim(units[c+1], "[]")
		}
		s.Channels = append(s.Channels, channel)
		s.Values = append(s.Values, nil)
	}
	for k, row := range body {
		s.T = append(s.T, float64(k))
		for c := range s.Channels {
			s.Values[c] = append(s.Values[c], num(row[c+1]))
		}
	}
	return s
}

func num(text string) float64 {
	x, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil {
		return math.NaN()
	}
	return x
}

// The open samples: the columns that their channels become, and nothing else becomes one.
func TestSamples(t *testing.T) {
	for name, want := range map[string]map[string]string{
		"light_diesel_obd_long.csv": {"Engine RPM": "engine_speed_rpm", "Vehicle speed": "vehicle_speed_kmh", "Absolute pedal position D": "pedal_pct"},
		"light_diesel_obd_boost_long.csv": {"Engine RPM": "engine_speed_rpm", "Vehicle speed": "vehicle_speed_kmh", "Absolute pedal position D": "pedal_pct", "Intake manifold absolute pressure": "map_kpa",
			"Calculated engine load value": "load_pct", "Barometric pressure": "baro_kpa", "Engine fuel rate": "fuel_kg_h"},
		"obd_implausible_ramp_long.csv":   {},
		"chassis_dyno_fuel_speed_1hz.csv": {"Eng_FuelFlow_Direct_DI": "fuel_kg_h", "Dyno_Spd": "roller_speed_kmh"},
		"cycle_class3b_1hz_bom_crlf.csv":  {"cycMps": "vehicle_speed_kmh"},
		"cycle_urban_1hz.csv":             {"cycMps": "vehicle_speed_kmh"},
		"road_day_datetime_gaps.csv":      {"speed_mph": "vehicle_speed_kmh"},
		"hd_chassis_dyno_motorway.csv":    {"v": "vehicle_speed_kmh", "gear": "gear"},
		"hd_test_track.csv":               {"v": "vehicle_speed_kmh", "n": "engine_speed_rpm"},
		"hd_diesel_engine_only_1hz.csv":   {"n": "engine_speed_rpm", "Tq_eng": "engine_torque_nm", "FC-Map": "fuel_kg_h"},
	} {
		t.Run(name, func(t *testing.T) {
			logs := []schema.Log{sample(t, name)}
			claims, found := settle(logs, Rules{}, Context{})
			got := map[string]string{}
			for _, c := range claims {
				if c.Column != "" && !c.Lost {
					got[logs[0].Series[c.Series].Channels[c.Channel].Name] = c.Column
				}
			}
			for channel, column := range want {
				if got[channel] != column {
					t.Errorf("%q became %q, want %q (%s)", channel, got[channel], column, named(logs, claims, channel).Why)
				}
			}
			for channel, column := range got {
				if want[channel] == "" {
					t.Errorf("%q became %q, want none", channel, column)
				}
			}
			t.Log(codes(found))
			if name == "obd_implausible_ramp_long.csv" && (!has(found, "implausible_values", "Engine RPM") || !has(found, "implausible_log", "") || !has(found, "one_trace", "")) {
				t.Errorf("the saw-tooth is not told: %v", codes(found))
			}
		})
	}
}

// Means of stored values against the figures stated for the samples (plain means, independent reading).
func TestSampleMeans(t *testing.T) {
	for _, c := range []struct {
		file, channel, column string
		mean                  float64
	}{
		{"chassis_dyno_fuel_speed_1hz.csv", "Dyno_Spd", "roller_speed_kmh", 19.18667574 * 1.609344},
		{"chassis_dyno_fuel_speed_1hz.csv", "Eng_FuelFlow_Direct_DI", "fuel_kg_h", 0.5219661966 * 3.6 * 0.835},
		{"cycle_class3b_1hz_bom_crlf.csv", "cycMps", "vehicle_speed_kmh", 12.91853291 * 3.6},
		{"hd_diesel_engine_only_1hz.csv", "FC-Map", "fuel_kg_h", 8063.761774 / 1000},
		{"light_diesel_obd_boost_long.csv", "Intake manifold absolute pressure", "map_kpa", 111.8091977},
		{"light_diesel_obd_boost_long.csv", "Engine fuel rate", "fuel_kg_h", 2.115631502 * 0.835},
	} {
		logs := []schema.Log{sample(t, c.file)}
		claims, _ := settle(logs, Rules{}, Context{})
		got := named(logs, claims, c.channel)
		sum, n := 0.0, 0
		for _, v := range finite(logs[0].Series[got.Series], got.Channel) {
			sum, n = sum+v*got.Scale+got.Offset, n+1
		}
		if mean := sum / float64(n); got.Column != c.column || math.Abs(mean-c.mean) > 1e-6*c.mean {
			t.Errorf("%s of %s became %s with mean %v, want %s with %v", c.channel, c.file, got.Column, mean, c.column, c.mean)
		}
	}
}

func TestBoostOfSampleIsLost(t *testing.T) {
	logs := []schema.Log{sample(t, "light_diesel_obd_boost_long.csv")}
	claims, found := settle(logs, Rules{}, Context{})
	if c := named(logs, claims, "Calculated boost"); c.Column != "map_kpa" || !c.Lost || !c.AddBaro {
		t.Errorf("calculated boost: %+v, want lost to the manifold's pressure", c)
	}
	if !slices.ContainsFunc(found, func(f schema.Finding) bool { return f.Code == "contested_column" && f.Channel == "Calculated boost" }) {
		t.Errorf("no finding on it: %v", codes(found))
	}
}
