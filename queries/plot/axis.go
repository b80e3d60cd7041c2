package plot

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"gonum.org/v1/plot"

	"dynolake/queries/result"
)

// Quantity gives a column's quantity in words, without its unit.
func Quantity(column string) string {
	if t, ok := map[string]string{
		"wheel_power_kw": "wheel power", "engine_speed_rpm": "engine speed", "torque_nm": "torque at the wheels, by engine speed", "power_kw": "power at the wheels",
		"torque_corr_nm": "torque, corrected", "power_corr_kw": "power, corrected", "boost_kpa": "boost", "net_drive_kpa": "net drive pressure", "drive_ratio": "drive ratio, net drive over boost",
		"exhaust_gauge_kpa": "exhaust back pressure, gauge", "dpf_delta_kpa": "pressure loss of the filter", "dpf_resist": "filter resistance", "pedal_pct": "pedal",
		"lambda_median": "λ, median", "lambda_p05": "λ, lowest twentieth", "lambda_ratio": "λ", "delta_nm": "torque gained", "marginal_ratio": "drive paid per boost gained",
		"share_of_turbine_in": "exhaust's share of the pressure before the turbine", "compressor_eff_frac": "compressor efficiency", "compressor_ratio": "compressor pressure ratio",
		"charge_c": "charge temperature", "cooler_eff_frac": "cooler effectiveness",
	}[column]; ok {
		return t
	}
	words := strings.Split(column, "_")
	if m := result.MeasureOf(result.Column{Name: column, Kind: result.Float64}, result.Options{}); len(words) > 1 && (m.Unit != "" || suffix(words)) {
		words = words[:len(words)-1]
	}
	return strings.Join(words, " ")
}

// suffix is whether a name ends in the mark of a number without unit.
func suffix(words []string) bool {
	last := words[len(words)-1]
	return last == "ratio" || last == "frac"
}

// Label is the axis' title with its unit.
func (a Axis) Label() string {
	t := upper(a.Title)
	if a.Unit != "" {
		t += " (" + a.Unit + ")"
	}
	return t
}

// upper begins a text with a capital; λ stays as it is.
func upper(s string) string {
	if s == "" || strings.HasPrefix(s, "λ") {
		return s
	}
	_, n := utf8.DecodeRuneInString(s)
	return strings.ToUpper(s[:n]) + s[n:]
}

// text writes a value with its unit.
func (a Axis) text(v float64) string {
	s := a.number(v)
	if a.Unit != "" && !a.Time {
		s += " " + a.Unit
	}
	return s
}

func (a Axis) number(v float64) string {
	if a.Time {
		return day(v).Format(time.DateOnly)
	}
	d := a.Decimals
	if d < 0 {
		d = max(0, 2-int(math.Floor(math.Log10(math.Max(math.Abs(v), 1e-9)))))
	}
	return strings.Replace(strconv.FormatFloat(v, 'f', d, 64), "-", "−", 1)
}

// span is the stretch that an axis covers.
type span struct{ lo, hi float64 }

func (s *span) add(v float64) {
	if !math.IsNaN(v) {
		s.lo, s.hi = math.Min(s.lo, v), math.Max(s.hi, v)
	}
}

func empty() span { return span{math.Inf(1), math.Inf(-1)} }

// steps gives about n round values over the span: 1, 2 or 5 times a power of ten apart.
func (s span) steps(n int) []float64 {
	width := s.hi - s.lo
	if !(width > 0) {
		return []float64{s.lo}
	}
	step := math.Pow(10, math.Floor(math.Log10(width/float64(n))))
	for _, m := range []float64{1, 2, 5, 10} {
		if width/(step*m) <= float64(n) {
			step *= m
			break
		}
	}
	var list []float64
	for k := math.Ceil(s.lo/step - 1e-9); k*step <= s.hi+1e-9*step; k++ {
		list = append(list, k*step+0) // Never -0.
	}
	return list
}

// ticks are the marks of an axis.
func (a Axis) ticks(s span) []plot.Tick {
	if a.Time {
		return dates(s)
	}
	values := s.steps(5)
	digits := 0
	if len(values) > 1 {
		digits = max(0, -int(math.Floor(math.Log10(values[1]-values[0])+1e-9)))
	}
	list := make([]plot.Tick, len(values))
	for i, v := range values {
		if math.Abs(v) < 1e-12 {
			v = 0
		}
		list[i] = plot.Tick{Value: v, Label: strings.Replace(strconv.FormatFloat(v, 'f', digits, 64), "-", "−", 1)}
	}
	return list
}

func day(v float64) time.Time { return time.Unix(int64(math.Round(v*86400)), 0).UTC() }

// dates marks months, or days where the span is short.
func dates(s span) []plot.Tick {
	var list []plot.Tick
	if s.hi-s.lo < 75 {
		for _, v := range s.steps(4) {
			if v == math.Trunc(v) {
				list = append(list, plot.Tick{Value: v, Label: day(v).Format("2 Jan")})
			}
		}
		return list
	}
	months := max(1, int(math.Ceil((s.hi-s.lo)/30.4/5)))
	first := day(s.lo)
	t := time.Date(first.Year(), first.Month(), 1, 0, 0, 0, 0, time.UTC)
	for ; ; t = t.AddDate(0, months, 0) {
		v := float64(t.Unix()) / 86400
		if v > s.hi {
			return list
		}
		if v >= s.lo {
			list = append(list, plot.Tick{Value: v, Label: t.Format("Jan 06")})
		}
	}
}

// fixed is a ticker of values that are known beforehand.
type fixed []plot.Tick

// Ticks gives them.
func (f fixed) Ticks(float64, float64) []plot.Tick { return f }

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
