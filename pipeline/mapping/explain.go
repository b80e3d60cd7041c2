package mapping

import (
	"fmt"
	"strconv"

	"dynolake/schema"
)

// Line explains one channel: what it is called, the column proposed for it, how it is converted, and why.
type Line struct {
	Source, Group, Name, Unit string
	Column                    string // Empty: stays in unmapped.
	Formula                   string // ×6.894757 + baro; empty where the number is stored as logged.
	Reason                    string
	Lost                      bool // Another channel holds the column.
}

// Explain gives a line for every claim, in their order.
func Explain(logs []schema.Log, claims []schema.Claim) []Line {
	out := make([]Line, 0, len(claims))
	for _, c := range claims {
		log := logs[c.Log]
		s := log.Series[c.Series]
		l := Line{Source: log.Source, Group: s.Name, Name: s.Channels[c.Channel].Name, Unit: s.Channels[c.Channel].Unit, Column: c.Column, Reason: c.Why, Lost: c.Lost}
		if c.Column != "" {
			l.Formula = Formula(c)
		}
		out = append(out, l)
	}
	return out
}

// Formula words a claim's conversion: ×6.894757 + baro, ×0.5555556 - 17.77778; empty where nothing is changed.
func Formula(c schema.Claim) string {
	text := ""
	if c.Scale != 1 {
		text = "×" + number(c.Scale)
	}
	add := func(sign, what string) {
		if text != "" {
			text += " "
		}
		text += sign + " " + what
	}
	switch {
	case c.Offset > 0:
		add("+", number(c.Offset))
	case c.Offset < 0:
		add("-", number(-c.Offset))
	}
	if c.AddBaro {
		add("+", "baro")
	}
	if c.TakeBaro {
		add("-", "baro")
	}
	if len(c.States) > 0 {
		add("with", fmt.Sprintf("%d named states", len(c.States)))
	}
	return text
}

func number(x float64) string { return strconv.FormatFloat(x, 'g', 7, 64) }
