package derive

// errors adds what was measured less what was asked for.
func (w *work) errors() {
	for _, e := range [][3]string{
		{"rail_error_kpa", "rail_kpa", "rail_set_kpa"},
		{"map_error_kpa", "map_kpa", "map_set_kpa"},
		{"vane_error_pct", "vane_pct", "vane_set_pct"},
	} {
		is, _ := w.of(e[1])
		set, _ := w.of(e[2])
		w.fill(e[0], func(i int) float64 { return is.at(i) - set.at(i) })
	}
}
