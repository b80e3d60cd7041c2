package derive

// exhaust adds the back pressure after the turbine and behind the particulate filter.
//
// exhaust_gauge = p_turbine_out - p_baro, else the whole exhaust's gauge pressure as logged; after_dpf = exhaust_gauge -
// dp_filter, kPa. By definition; no source.
func (w *work) exhaust() {
	out, outlet := w.of("turbine_out_kpa")
	total, _ := w.of("exhaust_total_kpa")
	filter, _ := w.of("dpf_delta_kpa")
	w.fill("exhaust_gauge_kpa", func(i int) float64 {
		if outlet == "" || !w.baro.known() {
			return total.at(i)
		}
		return float64(AbsKPa(out.at(i)).Less(AbsKPa(w.baro.at(i))))
	})
	gauge, _ := w.of("exhaust_gauge_kpa")
	w.fill("after_dpf_kpa", func(i int) float64 { return float64(DiffKPa(gauge.at(i)) - DiffKPa(filter.at(i))) })
}
