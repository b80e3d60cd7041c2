package result

// Measure says how a column's numbers are shown to people: shown = stored·Scale + Offset.
type Measure struct {
	Unit          string // As people read it; empty where there is none.
	Scale, Offset float64
	Decimals      int // Below 0: by significant digits.
}

// MeasureOf tells a column's measure in the system of units asked for.
func MeasureOf(c Column, o Options) Measure {
	s := styleOf(c, o)
	shown := Measure{Scale: s.scale, Offset: s.offset, Decimals: s.decimals, Unit: o.Declared[c.Name]}
	m, _, ok := measureOf(c.Name, o.Declared[c.Name])
	switch {
	case ok && s.converted:
		shown.Unit = m.us
	case ok && s.right:
		shown.Unit = m.unit
	}
	if shown.Unit == "1" || shown.Unit == "-" {
		shown.Unit = ""
	}
	return shown
}

// Shown converts a stored number.
func (m Measure) Shown(stored float64) float64 { return stored*m.Scale + m.Offset }

// Text writes a stored number as it is shown, without its unit.
func (m Measure) Text(stored float64) string {
	return style{decimals: m.Decimals, scale: m.Scale, offset: m.Offset}.number(stored, 64)
}
