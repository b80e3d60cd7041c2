package main

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"dynolake/schema/samples"
)

// The workbook with three clocks is one run, its sheets placed as least squares on their speeds has it.
func TestSampleWorkbookIsOneRun(t *testing.T) {
	lake := filepath.Join(t.TempDir(), "lake")
	dynolake(t, "init", "--lake", lake, "--quiet")
	dynolake(t, "ingest", "--lake", lake, "--quiet", filepath.Join(samples.Folder(t), "dyno_obd_paired_clocks.xlsx"))
	rows := askJSON(t, lake, "--sql", "SELECT source, form, rows, first_time_s, last_time_s, shift_s FROM sources ORDER BY source")
	if len(rows) != 3 || askJSON(t, lake, "--sql", "SELECT count(*) AS n FROM runs")[0].num("n") != 1 {
		t.Fatalf("sources %v: want three sheets of one run", rows)
	}
	shift := map[string]float64{}
	for i, want := range []struct {
		sheet             string
		rows, first, last float64
	}{{"dyno", 18001, 10, 1810}, {"obd", 1801, 5, 1805}, {"theoretical", 1801, 0, 1800}} {
		r := rows[i]
		if r["source"] != "dyno_obd_paired_clocks.xlsx#"+want.sheet || r["form"] != "workbook" || r.num("rows") != want.rows || math.Abs(r.num("first_time_s")-want.first) > 1e-9 || math.Abs(r.num("last_time_s")-want.last) > 1e-9 {
			t.Errorf("%v, want %+v", r, want)
		}
		shift[want.sheet] = r.num("shift_s")
	}
	for _, c := range []struct {
		from, to  string
		want, tol float64
	}{{"obd", "dyno", 5, 0.02}, {"theoretical", "dyno", 10.4, 0.1}, {"theoretical", "obd", 5.4, 0.1}} {
		if got := shift[c.from] - shift[c.to]; math.Abs(got-c.want) > c.tol {
			t.Errorf("%s lies %v s before %s, stated %v", c.from, got, c.to, c.want)
		}
	}
	speed := askJSON(t, lake, "--sql", "SELECT max(vehicle_speed_kmh) AS highest FROM samples")[0].num("highest")
	if math.Abs(speed-130.6321095) > 1e-4 {
		t.Errorf("highest speed %v, stated 130.6321095", speed)
	}
	raw := string(dynolake(t, "export", "--lake", lake, "--raw", "--format", "csv", fmt.Sprint(askJSON(t, lake, "--sql", "SELECT run_id FROM runs")[0]["run_id"])))
	n, sum := 0, 0.0
	for _, line := range strings.Split(raw, "\n") {
		if cells := strings.Split(line, ","); strings.HasPrefix(line, "dyno_obd_paired_clocks.xlsx#obd,,engine_speeds_out,") {
			v, err := strconv.ParseFloat(cells[5], 64)
			if err != nil {
				t.Fatal(err)
			}
			n, sum = n+1, sum+v
		}
	}
	if n != 1801 || math.Abs(sum/float64(n)-1399.429734) > 1e-6 {
		t.Errorf("%d engine speeds, mean %v; stated 1801 and 1399.429734", n, sum/float64(n))
	}
}

// Workbooks of maps and curves have no clock.
func TestSampleWorkbooksWithoutAClock(t *testing.T) {
	dir := samples.Folder(t)
	lake := filepath.Join(t.TempDir(), "lake")
	dynolake(t, "init", "--lake", lake, "--quiet")
	var out, errs bytes.Buffer
	code := run(context.Background(), []string{"dynolake", "ingest", "--lake", lake, filepath.Join(dir, "vehicle_tables_units_row.xlsx"), filepath.Join(dir, "engine_fuel_maps_title_rows.xlsx")}, &out, &errs)
	if code != exitSetAside || strings.Count(errs.String(), "a time channel is missing") < 2 || strings.Contains(out.String(), "stored") {
		t.Errorf("exit %d, want %d and the missing time channel named\n%s%s", code, exitSetAside, out.String(), errs.String())
	}
}
