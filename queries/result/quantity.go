package result

// Convert turns a value of a stored unit into the one that the system shows people, with that unit's name; what the system shows
// as it is stored stays. A difference of temperatures converts without the scale's offset.
func (u Units) Convert(x float64, unit string, difference bool) (shown float64, name string) {
	m, found, ok := measureOf("", unit)
	if u != US || !ok || m.us == "" {
		return x, unit
	}
	var s style
	s.convert("", m, difference || found)
	return x*s.scale + s.offset, m.us
}
