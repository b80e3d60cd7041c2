package delimited_test

import (
	"context"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/delimited"
	"dynolake/schema"
	"dynolake/schema/samples"
)

func file(path string) schema.Source {
	return schema.Source{Name: filepath.Base(path), Size: -1, Open: func() (io.ReadCloser, error) { return os.Open(path) }}
}

// figure is what an independent reading of a channel gives; NaN is not checked.
type figure struct {
	name, unit  string
	n           int
	lo, hi, avg float64
}

// Figures of the open sample logs, from an independent reading with another program.
var figures = []struct {
	file   string
	rows   int
	t0, t1 float64
	again  float64 // Lines that repeat the line before.
	has    []figure
}{
	{"chassis_dyno_fuel_speed_1hz.csv", 1404, 0, 1403, 0, []figure{{"Eng_FuelFlow_Direct_DI", "ccps", 1404, 0, 10.713, 0.5219661966}, {"Dyno_Spd", "mph", 1404, 0, 56.835, 19.18667574}}},
	{"cycle_class3b_1hz_bom_crlf.csv", 1801, 0, 1800, 0, []figure{{"cycMps", "", 1801, 0, 36.47222222, 12.91853291}}},
	{"cycle_urban_1hz.csv", 1370, 0, 1369, 0, []figure{{"cycMps", "", 1370, 0, 25.34757924, 8.752141014}}},
	{"road_day_datetime_gaps.csv", 2686, 0, 36813, 0, []figure{{"speed_mph", "", 2686, 0, 69.41443515, 38.10810067}}},
	{"hd_chassis_dyno_motorway.csv", 3450, 1, 3450, 0, []figure{{"<v>", "km/h", 3450, -0.014, 88.722, 70.07366928}, {"<gear>", "-", 3450, 0, 6, 5.154782609}, {"<Padd>", "kW", 3450, 1.866289072, 13.29073933, 5.761304085}}},
	{"hd_test_track.csv", 1512, 1, 1512, 0, []figure{{"<v>", "km/h", 1512, 0, 83.5281, 23.85167325}, {"<n>", "1/min", 1512, 574.25, 2500, 1166.085648}, {"<vair_beta>", "°", 1512, -132, 45, math.NaN()}}},
	{"hd_diesel_engine_only_1hz.csv", 696, 1, 696, 0, []figure{{"n", "1/min", 696, 600, 2503.301, 1305.709261}, {"Tq_eng", "Nm", 696, -235.0663, 724.2514, 177.2027867},
		{"Pe_eng", "kW", 696, -39.66005, 134.7832, 28.2591799}, {"FC-Map", "g/h", 689, 37.61931, 25727.47, 8063.761774}, {"FC-AUXc", "g/h", 0, math.NaN(), math.NaN(), math.NaN()}}},
	{"light_diesel_obd_long.csv", 6916, 18.9250926, 644.8049075, 3, []figure{{"Engine RPM", "rpm", 691, 837, 2075, 1940.212735}, {"Vehicle speed", "km/h", 691, 66, 132, 122.7308249}, {"Absolute pedal position D", "%", 691, 7, 65, 14.72503618}}},
	{"light_diesel_obd_boost_long.csv", 12717, 1024.6096124, 1670.4340513, 0, []figure{{"Intake manifold absolute pressure", "kPa", 1022, 40, 196, 111.8091977}, {"Calculated boost", "bar", 1022, 0, 0.96, 0.1606068982},
		{"Engine RPM", "rpm", 481, 823, 1796, 1291.482328}, {"Engine fuel rate", "l/h", 483, 0, 6.350000095, 2.115631502}, {"Barometric pressure", "kPa", 101, 100, 100, 100}}},
	{"obd_implausible_ramp_long.csv", 2400, 10190.1634089, 10203.7981521, 603, []figure{{"Engine RPM", "rpm", 29, 708, 15903, 9041}, {"Vehicle speed", "km/h", 29, 11, 248, math.NaN()},
		{"Engine coolant temperature", "℃", 29, -29, 208, math.NaN()}, {"Control module voltage", "V", 29, 2.835, 63.615, math.NaN()}}},
}

func TestSamples(t *testing.T) {
	dir := samples.Folder(t)
	for _, want := range figures {
		t.Run(want.file, func(t *testing.T) {
			src := file(filepath.Join(dir, want.file))
			r, err := read.Detect(context.Background(), src)
			if err != nil {
				t.Fatal(err)
			}
			logs, err := read.Collect(context.Background(), r, src)
			if err != nil || len(logs) != 1 {
				t.Fatalf("%d parts, %v", len(logs), err)
			}
			rows, t0, t1 := 0, math.Inf(1), math.Inf(-1)
			for _, s := range logs[0].Series {
				rows += len(s.T)
				t0, t1 = min(t0, s.T[0]), max(t1, s.T[len(s.T)-1])
			}
			if rows != want.rows || t0 != want.t0 || t1 != want.t1 {
				t.Errorf("%d rows from %v to %v s, want %d from %v to %v", rows, t0, t1, want.rows, want.t0, want.t1)
			}
			again := 0.0
			for _, f := range logs[0].Findings {
				if f.Code == "repeated_line" {
					again = f.Value
				}
			}
			if again != want.again {
				t.Errorf("%v repeated lines, want %v", again, want.again)
			}
			for _, f := range want.has {
				check(t, logs[0], f)
			}
		})
	}
}

func check(t *testing.T, l schema.Log, want figure) {
	t.Helper()
	for _, s := range l.Series {
		for i, c := range s.Channels {
			if c.Name != want.name {
				continue
			}
			n, lo, hi, sum := 0, math.NaN(), math.NaN(), 0.0
			for _, v := range s.Values[i] {
				if !math.IsNaN(v) {
					n++
					sum += v
					lo, hi = math.Min(v, either(lo, v)), math.Max(v, either(hi, v))
				}
			}
			off := func(got, want float64) bool {
				return !math.IsNaN(want) && !(math.Abs(got-want) <= 6e-10*math.Max(1, math.Abs(want)))
			}
			if c.Unit != want.unit || n != want.n || off(lo, want.lo) || off(hi, want.hi) || off(sum/float64(n), want.avg) {
				t.Errorf("%s [%s]: n %d, %v to %v, mean %v; want [%s] n %d, %v to %v, mean %v", c.Name, c.Unit, n, lo, hi, sum/float64(n), want.unit, want.n, want.lo, want.hi, want.avg)
			}
			return
		}
	}
	t.Errorf("channel %q is missing", want.name)
}

func either(a, b float64) float64 {
	if math.IsNaN(a) {
		return b
	}
	return a
}

// Curves and maps have no time: the message must say so and name the columns.
func TestSamplesWithoutTime(t *testing.T) {
	dir := samples.Folder(t)
	for name, column := range map[string]string{"hd_diesel_full_load.csv": "n [rpm]", "hd_diesel_full_load_bom.csv": "n [U/min]", "hd_diesel_fuel_map.csv": "engine speed [1/min]", "engine_fuel_map_norm.csv": "n_norm"} {
		src := file(filepath.Join(dir, name))
		_, err := read.Collect(context.Background(), delimited.Reader{}, src)
		if err == nil || !strings.Contains(err.Error(), "a time channel is missing") || !strings.Contains(err.Error(), column) {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := read.Detect(context.Background(), src); err == nil || !strings.Contains(err.Error(), "a time channel is missing") {
			t.Errorf("%s: detect: %v", name, err)
		}
	}
	for _, name := range []string{"hd_truck_idle_j1939.candump.log", "candump_cut_line.log", "thermocouples_4ch.candump.log", "hd_truck_j1939.dbc", "dyno_obd_paired_clocks.xlsx"} {
		if logs, err := read.Collect(context.Background(), delimited.Reader{}, file(filepath.Join(dir, name))); err == nil {
			t.Errorf("%s: read as delimited, %d parts", name, len(logs))
		}
	}
}
