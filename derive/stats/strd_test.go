package stats_test

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"dynolake/derive/stats"
)

// reference is one of the NIST Statistical Reference Datasets for linear regression, as NIST prints it (testdata/strd).
type reference struct {
	coef, se            []float64
	sd, r2, f, sse, ssr float64
	y                   []float64
	x                   [][]float64 // A slice a predictor.
}

func readReference(t *testing.T, name string) reference {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("testdata", "strd", name+".dat"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.ReplaceAll(string(raw), "\r", ""), "\n")
	var r reference
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil && !strings.EqualFold(s, "infinity") {
			t.Fatalf("%s: %v", name, err)
		}
		return v
	}
	coefficient, data := regexp.MustCompile(`^\s*B\d+\s+(\S+)\s+(\S+)\s*$`), false
	for i, line := range lines {
		fields := strings.Fields(line)
		switch {
		case data && len(fields) >= 2:
			r.y = append(r.y, number(fields[0]))
			for k, f := range fields[1:] {
				if len(r.x) <= k {
					r.x = append(r.x, nil)
				}
				r.x[k] = append(r.x[k], number(f))
			}
		case i > 55 && strings.HasPrefix(line, "Data:"):
			data = true
		case coefficient.MatchString(line):
			m := coefficient.FindStringSubmatch(line)
			r.coef, r.se = append(r.coef, number(m[1])), append(r.se, number(m[2]))
		case strings.Contains(line, "Standard Deviation   "):
			r.sd = number(fields[len(fields)-1])
		case strings.Contains(line, "R-Squared"):
			r.r2 = number(fields[len(fields)-1])
		case strings.HasPrefix(line, "Regression "):
			r.ssr, r.f = number(fields[2]), number(fields[4])
		case strings.HasPrefix(line, "Residual "):
			r.sse = number(fields[2])
		}
	}
	return r
}

// relative holds a value to a certified one: the digits that agree are -log10 of the relative error (NIST's LRE).
func relative(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if e := math.Abs(got-want) / math.Max(math.Abs(want), 1e-300); !(e <= tol) && got != want {
		t.Errorf("%s = %.15g, certified %.15g: %.1f digits agree, want %.1f", what, got, want, -math.Log10(e), -math.Log10(tol))
	}
}

// NIST StRD, linear regression, through FitLine and FitProportional: Norris, NoInt1, NoInt2.
func TestLineAgainstStRD(t *testing.T) {
	for name, fit := range map[string]func(x, y []float64) stats.Line{"Norris": stats.FitLine, "NoInt1": stats.FitProportional, "NoInt2": stats.FitProportional} {
		r := readReference(t, name)
		l := fit(r.x[0], r.y)
		got, at := []stats.Estimate{l.Slope}, 0
		if name == "Norris" {
			got = []stats.Estimate{l.Intercept, l.Slope}
		}
		for k, c := range got {
			relative(t, name+" coefficient", c.Value, r.coef[at+k], 1e-12)
			relative(t, name+" its deviation", c.SE, r.se[at+k], 1e-12)
		}
		relative(t, name+" residual deviation", l.SD, r.sd, 1e-12)
		relative(t, name+" R²", l.R2, r.r2, 1e-13)
		relative(t, name+" F", l.F, r.f, 1e-11)
		relative(t, name+" SSE", l.SSE, r.sse, 1e-11)
	}
}

// NIST StRD, linear regression, through Regress. The tolerance is the condition of the columns times the precision of float64: Filip's
// polynomial of degree 10 has a condition number of 1.8e15 as printed, 5e9 or so when the columns are brought to one length.
func TestRegressAgainstStRD(t *testing.T) {
	for _, c := range []struct {
		name     string
		degree   int
		tol, dev float64
	}{{"Norris", 1, 1e-11, 1e-12}, {"Pontius", 2, 1e-11, 1e-11}, {"NoInt1", -1, 1e-13, 1e-13}, {"NoInt2", -1, 1e-13, 1e-13}, {"Longley", 0, 1e-9, 1e-9},
		{"Wampler1", 5, 1e-8, 1e-6}, {"Wampler2", 5, 1e-10, 1e-9}, {"Wampler3", 5, 1e-8, 1e-9}, {"Wampler4", 5, 1e-6, 1e-9}, {"Wampler5", 5, 1e-4, 1e-9}, {"Filip", 10, 1e-6, 1e-6}} {
		r := readReference(t, c.name)
		columns := r.x
		switch {
		case c.degree > 0:
			columns = stats.Powers(r.x[0], c.degree)
		case c.degree == 0:
			columns = append([][]float64{stats.Powers(r.x[0], 0)[0]}, r.x...)
		}
		f := stats.Regress(r.y, columns...)
		if len(r.coef) != len(f.Coefficients) || len(r.y) < 3 {
			t.Fatalf("%s: %d coefficients certified, %d columns", c.name, len(r.coef), len(columns))
		}
		for k, got := range f.Coefficients {
			relative(t, c.name+" coefficient", got.Value, r.coef[k], c.tol)
			if r.sd > 0 {
				relative(t, c.name+" its deviation", got.SE, r.se[k], c.dev)
			} else if got.SE > 1e-6 {
				t.Errorf("%s fits exactly, and its deviation is %g", c.name, got.SE)
			}
		}
		if r.sd > 0 {
			relative(t, c.name+" residual deviation", f.SD, r.sd, math.Max(1e-9, c.dev))
			relative(t, c.name+" SSE", f.SSE, r.sse, math.Max(1e-9, c.dev))
		}
	}
}
