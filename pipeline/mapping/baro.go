package mapping

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"dynolake/schema"
)

// Baro is a run's barometric pressure and where it comes from.
type Baro struct {
	KPa     float64 // NaN when nothing tells it.
	From    string  // For people: the baro channel, the run sheet, pressures at key-on.
	Assumed bool    // Nothing told it; KPa is the standard atmosphere's 101.325 and serves to count gauge channels alone.
}

// Barometric finds a run's barometric (station) pressure: a barometric channel, else the run sheet, else what absolute pressures
// read with the engine stopped, else idling. Claims are those of ByEvidence. With nothing to go by it is 101.325 kPa, Assumed.
func Barometric(logs []schema.Log, claims []schema.Claim, shifts []float64, ctx Context) Baro {
	b := newBench(logs, claims, shifts, ctx)
	if baro := b.barometric(); !math.IsNaN(baro.KPa) {
		return baro
	}
	return Baro{KPa: 101.325, From: "nothing: the standard atmosphere", Assumed: true}
}

func newBench(logs []schema.Log, claims []schema.Claim, shifts []float64, ctx Context) *bench {
	return &bench{logs: logs, claims: slices.Clone(claims), shifts: shifts, ctx: ctx, traces: map[int]trace{}, clocks: map[[2]int]shared{}, states: map[int][]rest{}}
}

func (b *bench) barometric() Baro {
	if i := b.best("baro_kpa", -1); i >= 0 {
		if m := median(b.trace(i).v); stationLow <= m && m <= stationHigh {
			return Baro{KPa: m, From: "the barometric channel"}
		}
	}
	if b.sheet() {
		return Baro{KPa: b.ctx.Sheet.BaroKPa, From: "the run sheet"}
	}
	for _, stop := range []bool{true, false} {
		if v, names := b.keyOn(stop); len(v) > 0 {
			from := "absolute pressures at idle (" + strings.Join(names, ", ") + ")"
			if stop {
				from = "absolute pressures with the engine stopped (" + strings.Join(names, ", ") + ")"
			}
			return Baro{KPa: median(v), From: from}
		}
	}
	return Baro{KPa: math.NaN()}
}

// Station pressure where people drive: the Dead Sea's shore reads about 107 kPa, 4000 m about 60.
const (
	stationLow  = 58.0
	stationHigh = 110.0
)

func (b *bench) sheet() bool {
	return b.ctx.Sheet.BaroKPa >= stationLow && b.ctx.Sheet.BaroKPa <= stationHigh
}

// keyOn gives what absolute pressures read at rest, and their names. Only those known to be absolute count.
func (b *bench) keyOn(stop bool) (readings []float64, names []string) {
	for i, c := range b.claims {
		col, _ := schema.Lookup(c.Column)
		if col.Reference != schema.Absolute || strings.HasSuffix(col.Name, "_set_kpa") || c.AddBaro || c.Unit == "" || c.Reference != schema.Absolute {
			continue
		}
		if v, s, n := b.atRest(i); n > 0 && s == stop && v >= stationLow && v <= stationHigh {
			_, ch := b.channel(i)
			readings, names = append(readings, v), append(names, ch.Name)
		}
	}
	slices.Sort(names)
	return readings, slices.Compact(names)
}

// disagrees compares the sheet's barometric with what the pressures read with the engine stopped, and with a barometric channel.
func (b *bench) disagrees() {
	if !b.sheet() {
		return
	}
	readings, names := b.keyOn(true)
	where := "with the engine stopped"
	if i := b.best("baro_kpa", -1); i >= 0 {
		_, ch := b.channel(i)
		readings, names, where = []float64{median(b.trace(i).v)}, []string{ch.Name}, "throughout"
	}
	if len(readings) == 0 {
		return
	}
	off := b.ctx.Sheet.BaroKPa - median(readings)
	if math.Abs(off) <= 3 {
		return
	}
	b.found = append(b.found, find("", schema.Doubt, "baro_disagrees", strings.Join(names, ", "),
		fmt.Sprintf("the run sheet's barometric is %.4g kPa, but %s reads %.4g kPa %s: a weather report is reduced to sea level; state the station pressure", b.ctx.Sheet.BaroKPa, strings.Join(names, ", "), median(readings), where), off, "kPa"))
}
