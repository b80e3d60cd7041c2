package delimited

import (
	"math"

	"dynolake/schema"
)

// monthFirst decides what the first number of 03/05/2019 is: from a row in which only one reading is a date, else from the
// smallest step between dates, else from AM and PM, units and signs. The last is a guess and a finding.
func (c *column) monthFirst(s *sample, half bool) bool {
	var days, months, either int
	span := [2]int64{}
	var prev [2]int64
	first := true
	for i := range s.rows {
		cell := s.cell(i, c.at)
		d, ok := parseStamp(cell, false)
		if !ok || !d.hasDate {
			continue
		}
		m, _ := parseStamp(cell, true)
		switch d.order {
		case dayLeads:
			days++
		case monthLeads:
			months++
		}
		if _, tell := orderOf(d); tell {
			either++
		}
		for j, v := range [2]int64{d.days, m.days} {
			if !first {
				span[j] += abs(v - prev[j])
			}
			prev[j] = v
		}
		first = false
	}
	switch {
	case days+months > 0:
		return months > days
	case either == 0:
		return false
	case span[0] != span[1]:
		return span[1] < span[0]
	}
	us := half || s.american
	readAs := "day/month"
	if us {
		readAs = "month/day"
	}
	c.guessed(s, "date_order_guessed", schema.Doubt, "day and month could be either way round; dates are read as "+readAs+" by the other cells of the file; write years first to be sure", math.NaN(), "")
	return us
}

// orderOf reports whether a stamp's day and month could change places.
func orderOf(s stamp) (order, bool) { return s.order, s.order == either }

func abs(v int64) int64 {
	if v < 0 {
		return -v
	}
	return v
}
