package derive

import (
	"fmt"
	"math"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// Context is what is known of a run beside its rows.
type Context struct {
	Run       schema.Run
	Vehicle   *schema.Vehicle // Nil when not known.
	Dyno      *schema.Dyno    // Nil when not known.
	SheetGear float64         // The gear that the run sheet states for the whole run; NaN or 0 when it does not.
	unmoved   *schema.Frame   // What was logged, where the frame has a sensor moved to see what comes of it; else nil.
}

// Columns adds every derived column that the frame's columns and the context allow, and says what was chosen or assumed on
// the way. wheel_power_kw and torque_nm are filled in where they were not logged.
func Columns(f *schema.Frame, ctx Context) []schema.Finding {
	if ctx.Vehicle == nil {
		ctx.Vehicle = &schema.Vehicle{}
	}
	if ctx.Dyno == nil {
		ctx.Dyno = &schema.Dyno{Kind: ctx.Run.DynoKind}
	}
	w := &work{Frame: f, Context: ctx, period: period(f.T)}
	logged := same(f)
	w.baro = w.barometric()
	w.pressure()
	w.exhaust()
	w.gear()
	w.ratiosAgree()
	w.power()
	w.torque()
	w.slip()
	w.errors()
	w.correction()
	w.inputs()
	w.flows()
	w.charge()
	w.consumption()
	w.turbine()
	w.turbo()
	w.filter()
	w.regen()
	w.surge()
	w.lag()
	w.accuracies(logged)
	return w.findings
}

// work is one call of Columns.
type work struct {
	*schema.Frame
	Context
	period      float64 // s, the usual step between two rows.
	baro        input
	ratio       []float64          // ln of the gearbox's ratio by row, smoothed; nil where not known.
	scale       float64            // By what, in the logarithm, all ratios are off.
	egr         []float64          // Nil where not logged.
	idealAir    func(i int) KgPerS // By row, as fuel and exhaustFlow; nil where an input is missing.
	fuel        func(i int) KgPerS
	exhaustFlow func(i int) KgPerS // Air and fuel.
	findings    []schema.Finding
}

// input is a column or, where there is none, one value for the whole run.
type input struct {
	column []float64
	fixed  float64
}

// at gives the value in row i.
func (in input) at(i int) float64 {
	if in.column == nil {
		return in.fixed
	}
	return in.column[i]
}

func (in input) known() bool { return in.column != nil || !math.IsNaN(in.fixed) }

// of takes the first of the columns that holds any value.
func (w *work) of(names ...string) (input, string) {
	for _, n := range names {
		if w.Has(n) {
			return input{column: w.Column(n)}, n
		}
	}
	return input{fixed: math.NaN()}, ""
}

// fill computes a column row by row; one that comes out empty is left out.
func (w *work) fill(name string, value func(i int) float64) {
	out, any := make([]float64, w.Len()), false
	for i := range out {
		v := value(i)
		if math.IsInf(v, 0) {
			v = math.NaN()
		}
		out[i] = v
		any = any || !math.IsNaN(v)
	}
	if any {
		w.Set(name, out)
	}
}

// checked is fill for a column whose results may be impossible: what lies outside the catalogue's range of the column is left out
// and counted in a finding that gives the cause. It is a doubt where that is most rows.
func (w *work) checked(name, code, cause string, value func(i int) float64) {
	column, _ := schema.Lookup(name)
	refused, kept, t0, t1 := 0, 0, math.NaN(), math.NaN()
	w.fill(name, func(i int) float64 {
		switch v := value(i); {
		case math.IsNaN(v):
		case column.Plausible(v):
			kept++
			return v
		default:
			if refused++; refused == 1 {
				t0 = w.T[i]
			}
			t1 = w.T[i]
		}
		return math.NaN()
	})
	if refused == 0 {
		return
	}
	severity := schema.Note
	if refused > kept {
		severity = schema.Doubt
	}
	text := fmt.Sprintf("in %d of %d rows it lies outside %g to %g and is left out: %s", refused, refused+kept, column.Range[0], column.Range[1], cause)
	w.find(severity, code, name, text, float64(refused), "1")
	last := &w.findings[len(w.findings)-1]
	last.T0S, last.T1S = t0, t1
}

func (w *work) find(severity schema.Severity, code, channel, text string, value float64, unit string) {
	w.findings = append(w.findings, schema.Finding{
		Severity: severity, Code: code, Channel: channel, Text: text, Value: value, Unit: unit, T0S: math.NaN(), T1S: math.NaN(),
	})
}

// period is the median step between rows, in seconds; 0 with fewer than two.
func period(t []float64) float64 {
	if len(t) < 2 {
		return 0
	}
	steps := make([]float64, len(t)-1)
	for i := range steps {
		steps[i] = t[i+1] - t[i]
	}
	return stats.Median(steps)
}
