package engine

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"dynolake/derive/stats"
)

// The statistics macros against package stats, which is held to published values.
func TestStudentMacro(t *testing.T) {
	s := openGiven(t, nil)
	for _, r := range ask(t, s, "SELECT df, t975(df) AS t FROM (SELECT exp(x / 20.0) AS df FROM range(240) r(x)) d") {
		df, got := r[0].(float64), r[1].(float64)
		if want := stats.TQuantile(0.975, df); math.Abs(got/want-1) > 1e-7 {
			t.Errorf("t975(%v) = %.9f, want %.9f", df, got, want)
		}
	}
	for _, df := range []string{"0.99", "0", "-3", "NULL"} {
		if got := ask(t, s, "SELECT t975("+df+")")[0][0]; got != nil {
			t.Errorf("t975(%s) = %v", df, got)
		}
	}
}

func TestWelchMacros(t *testing.T) {
	s := openGiven(t, nil)
	r := rand.New(rand.NewPCG(1, 2))
	group := func(n int, mean, sd float64) (values []float64, rows string) {
		for i := range n {
			values = append(values, mean+sd*r.NormFloat64())
			if i > 0 {
				rows += ", "
			}
			rows += fmt.Sprintf("(%.17g)", values[i])
		}
		return values, rows
	}
	for i := range 60 {
		base, a := group(1+r.IntN(8), 400, 3)
		candidate, b := group(1+r.IntN(8), 400+float64(i%7), 3*math.Exp(r.NormFloat64()))
		e := stats.Welch(stats.Summary(base), stats.Summary(candidate))
		got := ask(t, s, `SELECT welch_se(a.sd, a.n, b.sd, b.n), welch_df(a.sd, a.n, b.sd, b.n), b.m - a.m - welch_half(a.sd, a.n, b.sd, b.n), b.m - a.m + welch_half(a.sd, a.n, b.sd, b.n),
				verdict_of(b.m - a.m - welch_half(a.sd, a.n, b.sd, b.n), b.m - a.m + welch_half(a.sd, a.n, b.sd, b.n))
			FROM (SELECT avg(y) AS m, stddev_samp(y) AS sd, count(*) AS n FROM (VALUES `+a+`) v(y)) a, (SELECT avg(y) AS m, stddev_samp(y) AS sd, count(*) AS n FROM (VALUES `+b+`) v(y)) b`)[0]
		in := e.Interval(0.95)
		for k, want := range []float64{e.SE, e.DF, in.Lo, in.Hi} {
			if x, there := got[k].(float64); there == math.IsNaN(want) || there && math.Abs(x-want) > 1e-6*(1+math.Abs(want)) {
				t.Errorf("%d and %d pulls: column %d is %v, want %v", len(base), len(candidate), k, got[k], want)
			}
		}
		if got[4] != string(in.Verdict()) {
			t.Errorf("%v says %v, want %q", in, got[4], in.Verdict())
		}
	}
}

// Without scatter the difference is exact; what rounding makes of equal values is none.
func TestWelchMacrosWithoutScatter(t *testing.T) {
	s := openGiven(t, nil)
	for statement, want := range map[string]any{
		"welch_half(0.0, 3, 0.0, 2)": 0.0, "welch_half(NULL, 1, 0.0, 2)": nil, "welch_half(1.0, 5, NULL, 1)": nil, "welch_half(NULL, 0, NULL, 0)": nil,
		"verdict_of(3.0, 3.0)": "gain", "verdict_of(-3.0, -2.0)": "loss", "verdict_of(-1.0, 2.0)": "no difference shown",
		"verdict_of(5.6e-14, 5.6e-14)": "no difference shown", "verdict_of(CAST(NULL AS DOUBLE), NULL)": "no difference shown",
	} {
		got := ask(t, s, "SELECT "+statement)[0][0]
		if x, ok := want.(float64); ok {
			if y := ask(t, s, "SELECT CAST("+statement+" AS DOUBLE)")[0][0]; y != x {
				t.Errorf("%s = %v, want %v", statement, y, x)
			}
			continue
		}
		if got != want {
			t.Errorf("%s = %v, want %v", statement, got, want)
		}
	}
}

// The macro of quantiles is the definition of package stats: linear between order statistics.
func TestQuantileMacro(t *testing.T) {
	s := openGiven(t, nil)
	r := rand.New(rand.NewPCG(3, 4))
	for range 20 {
		var x []float64
		rows := "(CAST(NULL AS DOUBLE))"
		for range 1 + r.IntN(9) {
			x = append(x, r.NormFloat64())
			rows += fmt.Sprintf(", (%.17g)", x[len(x)-1])
		}
		for _, p := range []float64{0, 0.05, 0.25, 0.5, 0.95, 1} {
			got := ask(t, s, fmt.Sprintf("SELECT quantile_of(y, %g) FROM (VALUES %s) v(y)", p, rows))[0][0].(float64)
			if want := stats.Quantile(p, x); math.Abs(got-want) > 1e-12 {
				t.Errorf("the %g quantile of %v is %v, want %v", p, x, got, want)
			}
		}
	}
}
