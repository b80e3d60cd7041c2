package workbook_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"dynolake/pipeline/read/readtest"
	"dynolake/pipeline/read/workbook"
	"dynolake/schema/samples"
)

// Figures of the open samples, read by an independent reader (zip and XML, with numpy).
func TestSamples(t *testing.T) {
	dir := samples.Folder(t)
	for _, c := range []struct {
		file, sheet           string
		first, column         int // Row and column of the first number, from 1.
		n                     int
		lowest, highest, mean float64
	}{
		{"vehicle_tables_units_row.xlsx", "engine", 3, 2, 1154, 600, 8800, 3468.929809},
		{"vehicle_tables_units_row.xlsx", "engine", 3, 3, 1154, 0.65, 357, 59.56737782},
		{"vehicle_tables_units_row.xlsx", "engine", 3, 4, 41, math.NaN(), math.NaN(), math.NaN()},
		{"vehicle_tables_units_row.xlsx", "vehicle", 3, 2, 39, math.NaN(), math.NaN(), 88.72307692},
		{"vehicle_tables_units_row.xlsx", "vehicle", 3, 6, 39, math.NaN(), math.NaN(), 1701.938462},
		{"vehicle_tables_units_row.xlsx", "gearbox_ratios", 3, 3, 223, math.NaN(), math.NaN(), 61.97600897},
		{"engine_fuel_maps_title_rows.xlsx", "Veh1_Petrol_EU5_Class1", 5, 3, 295, 0, 221.4325, 78.16799019},
		{"engine_fuel_maps_title_rows.xlsx", "Veh3_Petrol_EU5_Class1", 5, 3, 308, 0.4356648, 210.6758, 98.13360593},
		{"dyno_obd_paired_clocks.xlsx", "dyno", 2, 2, 18001, 0, 130.6321095, 46.2847027},
		{"dyno_obd_paired_clocks.xlsx", "obd", 2, 4, 1801, 800, 2529.034241, 1399.429734},
		{"dyno_obd_paired_clocks.xlsx", "obd", 2, 5, 1801, 23, 89.53152201, 73.40159549},
	} {
		data, err := os.ReadFile(filepath.Join(dir, c.file))
		if err != nil {
			t.Fatal(err)
		}
		sheets, _, err := workbook.Reader{}.Members(context.Background(), readtest.Bytes(c.file, data))
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range sheets {
			if !strings.HasSuffix(s.Name, "#"+c.sheet) {
				continue
			}
			n, sum, lowest, highest := 0, 0.0, math.Inf(1), math.Inf(-1)
			for at, text := range grid(t, s) {
				v, err := strconv.ParseFloat(text, 64)
				if at[1] == c.column && at[0] >= c.first && err == nil {
					n, sum, lowest, highest = n+1, sum+v, min(lowest, v), max(highest, v)
				}
			}
			off := func(got, want float64) bool {
				return !math.IsNaN(want) && math.Abs(got-want) > 1e-8*math.Max(1, math.Abs(want))
			}
			if n != c.n || off(lowest, c.lowest) || off(highest, c.highest) || off(sum/float64(n), c.mean) {
				t.Errorf("%s#%s column %d: %d numbers, %v to %v, mean %v; stated %+v", c.file, c.sheet, c.column, n, lowest, highest, sum/float64(n), c)
			}
			c.n = -1
		}
		if c.n != -1 {
			t.Errorf("%s has no sheet %q", c.file, c.sheet)
		}
	}
}
