package derive

import (
	"fmt"
	"math"
	"slices"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// How gears are told apart.
const (
	gearTolerance = 0.08 // Of the ratio: what noise, a coarse speed, a lag between the two speeds and a converter's slip may take.
	gearScale     = 0.08 // Of the ratio: what tyre and speedometer may be off by, throughout a run.
	gearDwell     = 0.3  // s. Shorter stays are the way from one gear to another.
	gearWindow    = 0.25 // s on either side, over which the ratio's median is taken; five rows at the least.
	windowRows    = 11   // Rows of a window that are looked at, so that a fast log costs no more.
	enoughRows    = 20   // Fewer rows do not show a scale.
)

// gear adds gear_est: the forward gear whose overall ratio is nearest to that of engine speed and road speed. The ratio is
// smoothed by a median; it must lie within half of the way to the neighbouring gear and within 8 %. A gear held for less than 0.3 s
// is none. Without the vehicle's ratios there is no estimate.
func (w *work) gear() {
	ratios, text := w.ratios()
	if ratios == nil {
		return
	}
	known := make([]float64, len(w.Vehicle.GearRatios))
	for k, r := range w.Vehicle.GearRatios {
		known[k] = math.Log(r)
	}
	smooth := w.smooth(ratios)
	scale := gearOffset(smooth, known)
	w.ratio, w.scale = smooth, scale
	if math.Abs(scale) >= 0.01 {
		w.find(schema.Note, "gear_scale", "gear_est", fmt.Sprintf("engine speed over %s is %+.1f %% off the vehicle's ratios throughout; gears are told apart with that taken off (check rolling radius, final drive and tyre size)", text, 100*(math.Exp(scale)-1)), math.Exp(scale), "1")
	}
	out := make([]float64, len(smooth))
	for i, r := range smooth {
		out[i] = nearestGear(r-scale, known)
	}
	w.dwell(out)
	if slices.ContainsFunc(out, func(g float64) bool { return !math.IsNaN(g) }) {
		w.Set("gear_est", out)
	}
}

// ratios gives the logarithm of the gearbox's ratio in every row, from the road speed, else from the output shaft's speed.
func (w *work) ratios() ([]float64, string) {
	v := w.Vehicle
	rpm, _ := w.of("engine_speed_rpm")
	if len(v.GearRatios) == 0 || !rpm.known() {
		return nil, ""
	}
	out := make([]float64, w.Len())
	if speed, name := w.of("vehicle_speed_kmh", "roller_speed_kmh"); name != "" && v.FinalDrive > 0 && v.RollingRadiusM > 0 {
		for i := range out {
			out[i] = math.NaN()
			if speed.at(i) >= minSpeed && rpm.at(i) > MinEngineSpeed {
				out[i] = math.Log(EngineRatio(rpm.at(i), v.RollingRadiusM, KMH(speed.at(i))) / v.FinalDrive)
			}
		}
		return out, name
	}
	if shaft, name := w.of("output_shaft_rpm"); name != "" {
		const least = 50 // 1/min, about the shaft's speed at 5 km/h.
		for i := range out {
			out[i] = math.NaN()
			if shaft.at(i) >= least && rpm.at(i) > MinEngineSpeed {
				out[i] = math.Log(rpm.at(i) / shaft.at(i))
			}
		}
		return out, name
	}
	return nil, ""
}

// smooth takes the median of the ratio around every row that has one.
func (w *work) smooth(x []float64) []float64 {
	half := max(gearWindow, samplesHalf*w.period)
	out := make([]float64, len(x))
	var window [windowRows]float64
	from, to := 0, 0
	for i, v := range x {
		for w.T[from] < w.T[i]-half {
			from++
		}
		for to < len(x) && w.T[to] <= w.T[i]+half {
			to++
		}
		if out[i] = v; math.IsNaN(v) {
			continue
		}
		stride := max(1, (to-from+windowRows-1)/windowRows)
		n := 0
		for j := from; j < to; j += stride {
			if !math.IsNaN(x[j]) {
				window[n] = x[j]
				n++
			}
		}
		slices.Sort(window[:n])
		if n > 0 {
			out[i] = (window[(n-1)/2] + window[n/2]) / 2
		}
	}
	return out
}

// gearOffset finds by how much, in the logarithm, all ratios of a run are off: 0 unless another offset fits far better.
func gearOffset(x, known []float64) float64 {
	values := stats.Present(x)
	if len(values) < enoughRows {
		return 0
	}
	stride := max(1, len(values)/2000)
	misfit := func(offset float64) float64 {
		const cap = 0.05
		sum := 0.0
		for i := 0; i < len(values); i += stride {
			d := cap
			for _, k := range known {
				d = min(d, math.Abs(values[i]-offset-k))
			}
			sum += d * d
		}
		return sum
	}
	best, least := 0.0, 0.6*misfit(0)
	for step := 0.005; step <= gearScale; step += 0.005 {
		for _, o := range []float64{step, -step} {
			if m := misfit(o); m < least {
				best, least = o, m
			}
		}
	}
	return best
}

// nearestGear gives the gear, counted from 1, whose ratio's logarithm is nearest; NaN when none is near enough.
func nearestGear(x float64, known []float64) float64 {
	best := math.NaN()
	least := math.Inf(1)
	for k, v := range known {
		d := math.Abs(x - v)
		tolerance := gearTolerance
		if k > 0 {
			tolerance = min(tolerance, math.Abs(known[k-1]-v)/2)
		}
		if k+1 < len(known) {
			tolerance = min(tolerance, math.Abs(known[k+1]-v)/2)
		}
		if d <= tolerance && d < least {
			best, least = float64(k+1), d
		}
	}
	return best
}

// dwell bridges short gaps within one gear and drops gears that are held for less than gearDwell or in a single row.
func (w *work) dwell(g []float64) {
	for i := 0; i < len(g); i++ {
		if !math.IsNaN(g[i]) || i == 0 || math.IsNaN(g[i-1]) {
			continue
		}
		to := i
		for to < len(g) && math.IsNaN(g[to]) {
			to++
		}
		if to < len(g) && g[to] == g[i-1] && w.T[to]-w.T[i-1] <= gearDwell {
			for j := i; j < to; j++ {
				g[j] = g[i-1]
			}
		}
		i = to
	}
	for from := 0; from < len(g); {
		to := from + 1
		for to < len(g) && g[to] == g[from] {
			to++
		}
		// A row stands for the time to its neighbours too, or a slow log would have no gears.
		if held := w.T[to-1] - w.T[from] + w.period; to-from < 2 || held < gearDwell {
			for j := from; j < to; j++ {
				g[j] = math.NaN()
			}
		}
		from = to
	}
}
