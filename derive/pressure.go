package derive

import (
	"fmt"
	"math"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// MinBoost is the least boost that a ratio is divided by, kPa (common practice, no source): below it the ratio says more of
// the sensors' offsets than of the turbocharger.
const MinBoost DiffKPa = 35

// Bases of net drive pressure: codes of drive_basis, in the catalogue's order.
const (
	BasisOutlet = 0
	BasisSystem = 1
)

// Boost is intake manifold less barometric pressure: p_map - p_baro, kPa. NaN where either is.
func Boost(manifold, baro AbsKPa) DiffKPa { return manifold.Less(baro) }

// NetDrive is the pressure across the turbine: p_in - p_out, kPa. It may be negative.
func NetDrive(in, out AbsKPa) DiffKPa { return in.Less(out) }

// NetDriveSystem stands for NetDrive where the outlet is not measured but the whole exhaust's gauge pressure is: p_in -
// p_baro - p_exhaust, kPa.
func NetDriveSystem(in, baro AbsKPa, exhaust DiffKPa) DiffKPa { return in.Less(baro) - exhaust }

// DriveRatio is drive pressure over boost; NaN where boost is below MinBoost or missing.
func DriveRatio(drive, boost DiffKPa) float64 {
	if !(boost >= MinBoost) {
		return math.NaN()
	}
	return float64(drive / boost)
}

const (
	baroRange = 3.0 // kPa. A barometer that moves by more in a run is not held over its gaps: the road climbs.
)

// barometric gives the pressure that every gauge stands on: the channel where it was logged, the run's barometric for other
// rows, else the channel's own median where it barely moves.
func (w *work) barometric() input {
	column := w.Column("baro_kpa")
	if !w.Has("baro_kpa") {
		if math.IsNaN(w.Run.BaroKPa) && (w.Has("map_kpa") || w.Has("turbine_in_kpa") || w.Has("turbine_out_kpa")) {
			w.find(schema.Doubt, "baro_missing", "baro_kpa", "no barometric pressure was logged or stated: boost and every other gauge pressure is left out; add baro to the run sheet", math.NaN(), "kPa")
		}
		return input{fixed: w.Run.BaroKPa}
	}
	missing := 0
	for _, v := range column {
		if math.IsNaN(v) {
			missing++
		}
	}
	if missing == 0 {
		return input{column: column}
	}
	held, whence := w.Run.BaroKPa, "the run's"
	if math.IsNaN(held) {
		q := stats.Quantiles(column, 0, 0.5, 1)
		if q[2]-q[0] > baroRange {
			return input{column: column}
		}
		held, whence = q[1], "the median"
	}
	filled := make([]float64, len(column))
	for i, v := range column {
		if math.IsNaN(v) {
			v = held
		}
		filled[i] = v
	}
	w.find(schema.Note, "baro_held", "baro_kpa", fmt.Sprintf("barometric pressure is missing in %d of %d rows; %s, %.2f kPa, stands for it there", missing, len(column), whence, held), held, "kPa")
	return input{column: filled}
}

// pressure adds boost, drive and the pressure ratios.
func (w *work) pressure() {
	manifold, _ := w.of("map_kpa")
	in, _ := w.of("turbine_in_kpa")
	out, outlet := w.of("turbine_out_kpa")
	total, system := w.of("exhaust_total_kpa")
	w.fill("boost_kpa", func(i int) float64 { return float64(Boost(AbsKPa(manifold.at(i)), AbsKPa(w.baro.at(i)))) })
	basis := math.NaN()
	switch {
	case outlet != "":
		basis = BasisOutlet
		w.fill("net_drive_kpa", func(i int) float64 { return float64(NetDrive(AbsKPa(in.at(i)), AbsKPa(out.at(i)))) })
	case system != "":
		basis = BasisSystem
		w.fill("net_drive_kpa", func(i int) float64 {
			return float64(NetDriveSystem(AbsKPa(in.at(i)), AbsKPa(w.baro.at(i)), DiffKPa(total.at(i))))
		})
	}
	net, _ := w.of("net_drive_kpa")
	w.fill("drive_basis", func(i int) float64 {
		if math.IsNaN(net.at(i)) {
			return math.NaN()
		}
		return basis
	})
	boost, _ := w.of("boost_kpa")
	w.fill("drive_ratio", func(i int) float64 { return DriveRatio(DiffKPa(net.at(i)), DiffKPa(boost.at(i))) })
	w.fill("gross_drive_kpa", func(i int) float64 { return float64(AbsKPa(in.at(i)).Less(AbsKPa(w.baro.at(i)))) })
	gross, _ := w.of("gross_drive_kpa")
	w.fill("gross_ratio", func(i int) float64 { return DriveRatio(DiffKPa(gross.at(i)), DiffKPa(boost.at(i))) })
	w.fill("expansion_ratio", func(i int) float64 { return AbsKPa(in.at(i)).Over(AbsKPa(out.at(i))) })
	delivery, _ := w.of("compressor_out_kpa", "map_kpa")
	suction, _ := w.of("inlet_kpa")
	if !suction.known() {
		suction = w.baro
	}
	w.fill("compressor_ratio", func(i int) float64 { return AbsKPa(delivery.at(i)).Over(AbsKPa(suction.at(i))) })
}
