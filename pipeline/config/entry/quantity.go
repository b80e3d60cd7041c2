package entry

import (
	"fmt"
	"math"
	"strings"

	"dynolake/schema"
)

// Want says which quantity is expected. Low and High bound it in the stored unit; both 0 means no bound.
type Want struct {
	Unit      string           // The stored unit's name; a bare number is in it.
	Reference schema.Reference // What zero a pressure is counted from.
	Low, High float64
	Example   string // Shown in errors: 34 psi.
}

// Reading is a quantity as understood.
type Reading struct {
	Value   float64     // In the wanted unit.
	Unit    schema.Unit // As written; the zero Unit for a bare number.
	Assumed bool        // A pressure on an absolute or gauge quantity whose unit did not say which it is; read as the wanted one.
}

// Quantity reads a number with an optional unit into the wanted one: 2.2 L, 34 psi, 102 °F, 3500. A number may have a decimal
// comma. An absolute pressure is refused where a difference is wanted and a gauge one where an absolute is: neither can be
// made from the other without a barometric pressure.
func Quantity(text string, want Want) (Reading, error) { return QuantityIn(text, "", want) }

// QuantityIn is Quantity with the unit that a bare number has, as a column's heading gives it.
func QuantityIn(text, unit string, want Want) (Reading, error) {
	number, rest := split(text)
	values := readings(number)
	if len(values) == 0 {
		return Reading{}, fmt.Errorf("found %q: want a number with or without a unit, such as %s", text, want.Example)
	}
	if rest == "" {
		rest = unit
	}
	if rest == "" {
		v, ok := want.pick(values, func(x float64) float64 { return x })
		return Reading{Value: v}, want.check(text, v, ok)
	}
	u, ok := schema.ParseUnit(rest)
	if !ok {
		return Reading{}, fmt.Errorf("found %q: unknown unit %q, want %s such as %s", text, rest, want.unit(), want.Example)
	}
	to, ok := schema.ParseUnit(want.Unit)
	if !ok {
		return Reading{}, fmt.Errorf("no unit is named %q", want.Unit)
	}
	to = likened(u, to)
	if u.Quantity != to.Quantity {
		return Reading{}, fmt.Errorf("found %q: %s is a %s, want a %s such as %s", text, u.Name, u.Quantity, to.Quantity, want.Example)
	}
	if err := want.reference(text, u); err != nil {
		return Reading{}, err
	}
	v, ok := want.pick(values, func(x float64) float64 { y, _ := u.Convert(x, to); return y })
	r := Reading{Value: v, Unit: u}
	r.Assumed = want.Reference == schema.Absolute && u.Reference == schema.NoReference && u.Name != want.Unit
	return r, want.check(text, v, ok)
}

// likened lets a percentage stand for a ratio, and a ratio for a percentage.
func likened(u, to schema.Unit) schema.Unit {
	if u.Quantity == "percentage" && to.Quantity == "ratio" {
		to.Quantity, to.Factor = "percentage", 100
	}
	return to
}

func (w Want) reference(text string, u schema.Unit) error {
	switch {
	case w.Reference == schema.Absolute && u.Reference == schema.Gauge:
		return fmt.Errorf("found %q, a gauge pressure: want an absolute one such as %s (limit the gauge column instead, or add the barometric pressure)", text, w.Example)
	case (w.Reference == schema.Gauge || w.Reference == schema.Difference) && u.Reference == schema.Absolute:
		return fmt.Errorf("found %q, an absolute pressure: want a %s pressure such as %s", text, w.Reference, w.Example)
	}
	return nil
}

// pick takes the first reading that lies within the bounds, else the first.
func (w Want) pick(values []float64, convert func(float64) float64) (float64, bool) {
	for _, x := range values {
		if v := convert(x); w.within(v) {
			return v, true
		}
	}
	return convert(values[0]), false
}

func (w Want) within(v float64) bool {
	return !math.IsNaN(v) && !math.IsInf(v, 0) && (w.Low == 0 && w.High == 0 || v >= w.Low && v <= w.High)
}

func (w Want) check(text string, v float64, ok bool) error {
	if ok {
		return nil
	}
	return fmt.Errorf("found %q, which is %.6g %s: want %.6g to %.6g, such as %s", text, v, w.unit(), w.Low, w.High, w.Example)
}

func (w Want) unit() string {
	if w.Unit == "1" {
		return "(a fraction)"
	}
	return w.Unit
}

// perSpeed is what the k-th coefficient's unit is called.
var perSpeed = [...]string{"N", "N/(km/h)", "N/(km/h)^2"}

var powers = strings.NewReplacer("²", "^2", "**2", "^2", "^1", "", "·", "", "*", "", " ", "", "\u00a0", "")

// spelled are coefficient units written as a product rather than as a quotient.
var spelled = map[string]string{"Ns/m": "N/(m/s)", "Ns^2/m^2": "N/(m/s)^2", "Nh/km": "N/(km/h)", "Nh^2/km^2": "N/(km/h)^2"}

// Coefficient reads the power-th coefficient of a force that is a polynomial in speed, in N/(km/h)^power: 0.9 N/(km/h),
// 0.02 lbf/mph^2, 12 N/(m/s), or a bare number in the stored unit.
func Coefficient(text string, power int) (float64, error) {
	number, rest := split(text)
	values := readings(number)
	if len(values) == 0 {
		return 0, fmt.Errorf("found %q: want a number such as 120 %s", text, perSpeed[power])
	}
	if rest == "" {
		return values[0], nil
	}
	folded := powers.Replace(rest)
	if s, ok := spelled[folded]; ok {
		folded = s
	}
	force, below, _ := strings.Cut(folded, "/")
	found := 0
	if below != "" {
		found = 1
		if b, ok := strings.CutSuffix(below, "^2"); ok {
			below, found = b, 2
		} else if b, ok := strings.CutSuffix(below, "2"); ok {
			below, found = b, 2
		}
	}
	f, ok := schema.ParseUnit(force)
	speed, okSpeed := schema.Unit{Factor: 1}, true
	if found > 0 {
		speed, okSpeed = schema.ParseUnit(below)
		okSpeed = okSpeed && speed.Quantity == "speed"
	}
	if !ok || f.Quantity != "force" || !okSpeed || found != power {
		return 0, fmt.Errorf("found %q: coefficient %d wants a unit of %s, such as %s", text, power+1, [...]string{"force", "force over speed", "force over speed squared"}[power], perSpeed[power])
	}
	return values[0] * f.Factor / math.Pow(speed.Factor, float64(power)), nil
}
