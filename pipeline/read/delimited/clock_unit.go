package delimited

import (
	"fmt"
	"math"
	"slices"

	"dynolake/schema"
)

// interpret finds the unit of a numeric clock: from the header, else from its size and steps.
func (c *column) interpret(s *sample, per float64, values []float64, decimals int, whole bool) {
	k := &c.clock
	if w := unitInName(c.name); per == 0 && w != "" {
		per, k.unit = secondsPer(w), w
	}
	lowest, typical := slices.Min(values), steps(values)
	if per == 0 && c.packed(values, typical) {
		k.form, k.packed, k.unit, k.step = timeOfDay, true, "hhmmss", math.Pow10(-min(decimals, 15))
		c.guessed(s, "clock_packed", schema.Note, "its numbers are hours, minutes and seconds in pairs of digits, as position receivers write them", math.NaN(), "")
		return
	}
	k.form = elapsed
	switch e := epochUnit(lowest); {
	case e > 0 && (per == 0 || per == e || per == 1):
		per, k.form, k.zoned, k.unit = e, epoch, true, map[float64]string{1: "s", 1e-3: "ms", 1e-6: "us", 1e-9: "ns"}[e]
	case (per == 0 || per == 86400) && lowest >= 25569 && lowest < 73050 && !whole && typical < 0.02:
		k.form, k.unit, k.day0 = serial, "days", firstOf(values)
		k.start = serialTime(k.day0)
		c.guessed(s, "clock_unit_guessed", schema.Doubt, "its numbers are read as days since 1899-12-30, as spreadsheets count; state a unit in the header if that is wrong", 86400, "s")
	case per == 0:
		per = c.guessUnit(s, typical, whole)
	}
	switch k.form {
	case epoch:
		k.start = time0
	case serial:
		per = 86400
	}
	k.mul, k.div = scale(per)
	k.step = per * math.Pow10(-min(decimals, 15))
	if decimals == 0 {
		k.step = per
		if k.form == elapsed {
			k.follow.tick = per
		}
	}
}

func firstOf(values []float64) float64 { return values[0] }

// scale gives a unit as a factor and a divisor that are both whole, so that 1234 ms is exactly the float 1.234.
func scale(per float64) (mul, div float64) {
	if per > 0 && per < 1 {
		return 1, math.Round(1 / per)
	}
	return per, 1
}

// epochUnit tells counts from 1970 by their size: between 2000 and 2100 in s, ms, us or ns. It is 0 for other numbers.
func epochUnit(v float64) float64 {
	for _, u := range []float64{1, 1e-3, 1e-6, 1e-9} {
		if s := v * u; s >= 946684800 && s < 4102444800 {
			return u
		}
	}
	return 0
}

// steps is the median of the steps forward.
func steps(values []float64) float64 {
	var d []float64
	for i := 1; i < len(values); i++ {
		if x := values[i] - values[i-1]; x > 0 {
			d = append(d, x)
		}
	}
	return median(d)
}

// guessUnit takes a unit where the header names none. Recorders of this kind give between one row in some seconds and some
// thousand rows a second: steps of five and more are milliseconds, of ten thousand and more microseconds.
func (c *column) guessUnit(s *sample, typical float64, whole bool) float64 {
	per, name := 1.0, "s"
	switch {
	case typical >= 1e4:
		per, name = 1e-6, "us"
	case typical >= 5:
		per, name = 1e-3, "ms"
	}
	c.clock.unit = name
	sev := schema.Doubt
	if per == 1 && (!whole || typical == 1) {
		sev = schema.Note
	}
	c.guessed(s, "clock_unit_guessed", sev, fmt.Sprintf("its header states no unit; by its steps of %.4g it is read as %s; state the unit in the header if that is wrong", typical, name), per, "s")
	return per
}

// packed reports numbers that are hours, minutes and seconds in pairs of digits: all of them are such a time, and the header says
// so, or a minute's end is among them, where the number leaps by 41 and the time goes on as before, or midnight is.
func (c *column) packed(values []float64, typical float64) bool {
	leaps := 0
	for i, v := range values {
		t, ok := unpack(v)
		if !ok {
			return false
		}
		if i == 0 {
			continue
		}
		if was, _ := unpack(values[i-1]); v-values[i-1] > 40 && t > was && t-was <= 2*typical || was >= 86340 && t < 60 {
			leaps++
		}
	}
	return leaps > 0 || hasWord(c.name, "hhmmss") || hasWord(c.unit, "hhmmss") || hasWord(c.name, "utc", "gps") && slices.Max(values) >= 10000
}

// unpack gives the seconds since midnight of 235959.5, false for what is no time.
func unpack(v float64) (float64, bool) {
	whole := math.Floor(v)
	h, m, s := math.Floor(whole/10000), math.Mod(math.Floor(whole/100), 100), math.Mod(whole, 100)
	return h*3600 + m*60 + s + math.Round((v-whole)*1e9)/1e9, v >= 0 && h < 24 && m < 60 && s <= 60
}
