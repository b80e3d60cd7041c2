package derive

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"dynolake/derive/uncertainty"
	"dynolake/schema"
)

// What of a run the uncertainty is reckoned from: the rows around one, so that a long log costs no more.
const (
	accuracySpan = 3.0 // s on either side.
	accuracyRows = 300 // On either side at the most.
)

// Uncertainty is a result in one row with its combined standard uncertainty.
type Uncertainty struct {
	Column  string
	Value   float64
	U       float64  // In the column's unit.
	Effects []Effect // The largest first.
	Exact   []string // Logged columns that move the result and whose accuracy is not stated: they count as exact.
}

// Effect is what one sensor's standard uncertainty does to a result, signed, in the result's unit.
type Effect struct {
	Input string
	Z     float64
}

// Judged are the columns whose uncertainty is told of every run: what verdicts are made of.
func Judged() []string {
	return []string{"boost_kpa", "net_drive_kpa", "drive_ratio", "gross_drive_kpa", "gross_ratio", "expansion_ratio", "compressor_ratio", "exhaust_gauge_kpa", "dpf_delta_kpa", "dpf_resist",
		"wheel_power_kw", "torque_nm", "power_corr_kw", "air_kg_h", "lambda_calc_ratio", "ve_frac", "compressor_eff_frac", "cooler_eff_frac", "bsfc_g_kwh"}
}

// Uncertainties gives the combined standard uncertainty of columns in one row by first-order propagation (GUM, JCGM 100:2008, eq. 10 with
// the sensitivities of 5.1.3 note 2): every sensor of a stated accuracy is moved by its standard uncertainty either way, in all rows
// alike, and the derived columns are made anew. So a sensor that enters a result twice counts once, with its sign. f holds what was
// logged and is not changed. Sensors count as independent of each other; noise from row to row, the vehicle's and the dyno's
// figures and the formulas themselves are not in it. A column without a value or without a sensor of stated accuracy is left out.
func Uncertainties(f *schema.Frame, ctx Context, columns []string, row int) []Uncertainty {
	p := perturbed{frame: around(f, f.T[row]), ctx: ctx}
	p.row = slices.Index(p.frame.T, f.T[row])
	if p.ctx.Vehicle == nil || len(p.ctx.Vehicle.Accuracy) == 0 || p.row < 0 {
		return nil
	}
	p.accuracy = p.ctx.Vehicle.Accuracy
	plain := *p.ctx.Vehicle
	plain.Accuracy = nil // So that making the columns anew does not come here again.
	p.ctx.Vehicle = &plain
	at := p.values("", 0, columns)
	all := make([]Uncertainty, len(columns))
	for i, c := range columns {
		all[i] = Uncertainty{Column: c, Value: at[i]}
	}
	for _, input := range p.inputs() {
		p.move(input, at, columns, all)
	}
	return slices.DeleteFunc(all, func(u Uncertainty) bool { return math.IsNaN(u.Value) || len(u.Effects) == 0 })
}

// perturbed makes the columns of a few rows anew with one input moved.
type perturbed struct {
	frame    *schema.Frame
	ctx      Context
	accuracy map[string]schema.Accuracy
	row      int
}

// inputs are the logged columns, and what the run states where it was not logged.
func (p *perturbed) inputs() []string {
	var names []string
	for _, n := range p.frame.Names() {
		if c, ok := schema.Lookup(n); ok && c.Kind == schema.Continuous && n != "t_s" && p.frame.Has(n) {
			names = append(names, n)
		}
	}
	for n, v := range map[string]float64{"baro_kpa": p.ctx.Run.BaroKPa, "ambient_c": p.ctx.Run.AmbientC, "humidity_pct": p.ctx.Run.HumidityPct} {
		if !p.frame.Has(n) && !math.IsNaN(v) {
			names = append(names, n)
		}
	}
	slices.Sort(names)
	return names
}

// move adds one input's effect to every result, or its name to those that it moves where its accuracy is not stated.
func (p *perturbed) move(input string, at []float64, columns []string, all []Uncertainty) {
	a, stated := p.accuracy[input]
	if !stated {
		a = schema.Accuracy{Half: 1e-3, Share: 1e-3, Coverage: 1} // Any small step shows whether it counts.
	}
	below, above := p.values(input, -1, columns, a), p.values(input, 1, columns, a)
	for i := range all {
		z := uncertainty.Effect(below[i], at[i], above[i])
		switch u := &all[i]; {
		case math.IsNaN(u.Value) || math.Abs(z) <= 1e-9*math.Abs(u.Value):
		case !stated:
			u.Exact = append(u.Exact, input)
		default:
			u.Effects = append(u.Effects, Effect{input, z})
			slices.SortStableFunc(u.Effects, func(a, b Effect) int { return cmp.Compare(math.Abs(b.Z), math.Abs(a.Z)) })
			u.U = math.Hypot(u.U, z)
		}
	}
}

// values makes the columns with an input moved by so many standard uncertainties and gives them in the row.
func (p *perturbed) values(input string, times float64, columns []string, a ...schema.Accuracy) []float64 {
	f, ctx := same(p.frame), p.ctx
	ctx.unmoved = p.frame
	moved := func(v float64) float64 { return v + times*a[0].Standard(v) }
	if logged := p.frame.Column(input); input != "" && logged != nil {
		other := make([]float64, len(logged))
		for i, v := range logged {
			other[i] = moved(v)
		}
		f.Set(input, other)
	}
	switch input {
	case "baro_kpa":
		ctx.Run.BaroKPa = moved(ctx.Run.BaroKPa)
	case "ambient_c":
		ctx.Run.AmbientC = moved(ctx.Run.AmbientC)
	case "humidity_pct":
		ctx.Run.HumidityPct = moved(ctx.Run.HumidityPct)
	}
	Columns(f, ctx)
	out := make([]float64, len(columns))
	for i, c := range columns {
		out[i] = math.NaN()
		if x := f.Column(c); x != nil {
			out[i] = x[p.row]
		}
	}
	return out
}

// same is another frame of the same columns, so that what is added to one is not in the other.
func same(f *schema.Frame) *schema.Frame {
	other := schema.NewFrame(f.T)
	for _, n := range f.Names() {
		other.Set(n, f.Column(n))
	}
	return other
}

// around is the rows of a frame near a time.
func around(f *schema.Frame, t float64) *schema.Frame {
	at, _ := slices.BinarySearch(f.T, t)
	from, _ := slices.BinarySearch(f.T, t-accuracySpan)
	to, _ := slices.BinarySearch(f.T, t+accuracySpan)
	from, to = max(from, at-accuracyRows), min(to, at+accuracyRows)
	part := schema.NewFrame(f.T[from:to])
	for _, n := range f.Names() {
		part.Set(n, f.Column(n)[from:to])
	}
	return part
}

// accuracies tells the uncertainty of the judged columns where the run's wheel power, else its boost, is highest.
func (w *work) accuracies(logged *schema.Frame) {
	if len(w.Vehicle.Accuracy) == 0 {
		return
	}
	for _, by := range []string{"wheel_power_kw", "boost_kpa"} {
		if !w.Has(by) {
			continue
		}
		row := highest(w.Column(by))
		column, _ := schema.Lookup(by)
		where := fmt.Sprintf("at the highest %s, %.4g %s", by, w.Column(by)[row], column.Unit)
		for _, u := range Uncertainties(logged, w.Context, Judged(), row) {
			column, _ := schema.Lookup(u.Column)
			w.find(schema.Note, "uncertainty", u.Column, u.text(where, column.Unit), u.U, column.Unit)
			last := &w.findings[len(w.findings)-1]
			last.T0S, last.T1S = w.T[row], w.T[row]
		}
		return
	}
}

// text says a result with its standard uncertainty, and what it comes from.
func (u Uncertainty) text(where, unit string) string {
	if unit == "1" {
		unit = ""
	}
	from := make([]string, 0, 3)
	for _, e := range u.Effects[:min(3, len(u.Effects))] {
		from = append(from, fmt.Sprintf("%s %.0f %%", e.Input, 100*uncertainty.Share(e.Z, u.U)))
	}
	text := fmt.Sprintf("%s it is %.4g with a standard uncertainty of %.2g %s: by first order from the stated accuracies, of its square %s", where, u.Value, u.U, unit, strings.Join(from, ", "))
	text = strings.ReplaceAll(text, " :", ":")
	if len(u.Exact) > 0 {
		text += fmt.Sprintf("; %s count as exact, as the vehicle states no accuracy of them", strings.Join(u.Exact, ", "))
	}
	return text
}

// highest is the row of the highest value present.
func highest(x []float64) int {
	row := 0
	for i, v := range x {
		if v > x[row] || math.IsNaN(x[row]) {
			row = i
		}
	}
	return row
}
