package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"
)

// A name that nothing in the lake has is one of the command line, and the nearest right one is told.
func TestNamesThatTheLakeDoesNotHave(t *testing.T) {
	lake := demoLakeFolder(t)
	for _, c := range []struct {
		line, says string
		code       int
	}{
		{"compare stock step9", `find candidate "step9": the lake has none of that name (did you mean "step1"?)`, exitUsage},
		{"compare stokc step1", `did you mean "stock"?`, exitUsage},
		{"compare stock step1 --vehicle invented-car-x", `find vehicle "invented-car-x": the lake has none of that name (did you mean "invented-car-a"?)`, exitUsage},
		{"compare stock step1 --platform invented-light-2", `did you mean "invented-light-2l"?`, exitUsage},
		{"compare stock step1 --param vehicle=nobody", `there are invented-car-a, invented-car-b`, exitUsage},
		{"limits --vehicle invented-van", `did you mean "invented-van-c"?`, exitUsage},
		{"query torque/peak --param vehicle=invented-car-x", `did you mean "invented-car-a"?`, exitUsage},
		{"query torque/delta --param base=stock --param candidate=stpe1", `did you mean "step1"?`, exitUsage},
		{"compare stock step1 --gear 9", `no vehicle has pulls of both "stock" and "step1"`, 0},
		{"compare stock step1 --from 2031-01-01", `no vehicle has pulls`, 0},
		{"compare stock stock --vehicle invented-car-b", `the same calibration`, 0},
	} {
		var out, errs bytes.Buffer
		args := append([]string{"dynolake", "--lake", lake, "--format", "csv"}, strings.Fields(c.line)...)
		if code := run(context.Background(), args, &out, &errs); code != c.code || !strings.Contains(errs.String(), c.says) {
			t.Errorf("%s: exit %d, want %d\n%s\nwant %q", c.line, code, c.code, errs.String(), c.says)
		}
		if strings.Contains(c.line, "stock stock") && (strings.Contains(out.String(), "gain") || strings.Contains(out.String(), "loss") || strings.Count(out.String(), "\n") < 100) {
			t.Errorf("%s: a calibration differs from itself:\n%.2000s", c.line, out.String())
		}
	}
}

// Tables for people are in the units they ask for, row by row; everything else stays as it is stored.
func TestCompareInUnits(t *testing.T) {
	lake := demoLakeFolder(t)
	line := []string{"--lake", lake, "compare", "stock", "step1", "--vehicle", "invented-car-b"}
	var rows []row
	if err := json.Unmarshal(dynolake(t, append([]string{"--format", "json", "--units", "us"}, line...)...), &rows); err != nil {
		t.Fatal(err)
	}
	table := strings.Split(strings.TrimSpace(string(dynolake(t, append([]string{"--format", "markdown", "--units", "us"}, line...)...))), "\n")[2:]
	factors := map[string]struct {
		unit   string
		factor float64
	}{"kW": {"hp", 1.34102209}, "N·m": {"lb-ft", 0.737562149}, "kPa": {"psi", 0.145037738}, "1": {"1", 1}}
	quantities := map[string]bool{}
	for i, r := range rows {
		cells := strings.Split(table[i], "|")
		shown, err := strconv.ParseFloat(strings.TrimSpace(cells[4]), 64)
		want := factors[r.text("unit")]
		if err != nil || math.Abs(shown-r.num("base")*want.factor) > 0.001*math.Abs(shown)+0.001 || strings.TrimSpace(cells[12]) != want.unit {
			t.Fatalf("row %d: %s\nis of %v", i, table[i], r)
		}
		quantities[r.text("quantity")] = true
	}
	for _, q := range []string{"power", "torque", "boost", "net drive", "ratio", "exhaust", "lambda"} {
		if !quantities[q] {
			t.Errorf("%s is not compared", q)
		}
	}
}

// A limit's margin is what is left to it, and what was met lies within what was measured or at most 15 % beyond.
func TestLimitsOfTheDemo(t *testing.T) {
	lake := demoLakeFolder(t)
	var rows []row
	if err := json.Unmarshal(dynolake(t, "--lake", lake, "--format", "json", "limits"), &rows); err != nil {
		t.Fatal(err)
	}
	bases := map[string]int{}
	for _, r := range rows {
		bases[r.text("basis")]++
		left := r.num("bound") - r.num("worst")
		if r.text("direction") == "min" {
			left = -left
		}
		if r.num("n") > 0 && math.Abs(left-r.num("margin")) > 2e-4 {
			t.Errorf("margin of %v", r)
		}
		met, highest := r.num("expected_power_kw"), r.num("highest_power_kw")
		switch r.text("basis") {
		case "measured":
			if !(met <= highest+2.6) {
				t.Errorf("measured beyond what was measured: %v", r)
			}
		case "extrapolated":
			if !(met <= 1.15*highest+0.1) || r.num("margin") < 0 {
				t.Errorf("extrapolated too far: %v", r)
			}
		default:
			if !math.IsNaN(met) {
				t.Errorf("a power that is not reachable: %v", r)
			}
		}
	}
	for _, b := range []string{"measured", "extrapolated", "not reachable"} {
		if bases[b] == 0 {
			t.Errorf("no limit of the demo is %s: %v", b, bases)
		}
	}
}
