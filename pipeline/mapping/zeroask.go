package mapping

import (
	"fmt"
	"slices"
	"strings"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

// KeyOn asks for a pressure's zero as it reads with the engine stopped.
const KeyOn = "key-on"

// ZeroAsks are what a run sheet asks for, by column; one that stands for all pressures is under the empty name.
type ZeroAsks map[string]schema.ZeroAsk

// of gives what is asked of a column.
func (z ZeroAsks) of(column string) (schema.ZeroAsk, bool) {
	if a, ok := z[column]; ok {
		return a, true
	}
	a, ok := z[""]
	return a, ok
}

// ParseZeros reads a run sheet's zero: key-on for all pressures, or columns, each with what it reads at its zero: "turbine_in_kpa; dpf_delta_kpa = -0.3
// kPa". A column alone is read at key-on. An empty text, and none, ask for nothing.
func ParseZeros(text string) (ZeroAsks, error) {
	z := ZeroAsks{}
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return r == ';' || r == ',' }) {
		name, figure, stated := strings.Cut(part, "=")
		name, figure = strings.ToLower(strings.TrimSpace(name)), strings.TrimSpace(figure)
		switch {
		case name == "" || name == "none" && !stated:
			continue
		case isKeyOn(name) && !stated:
			z[""] = schema.ZeroAsk{KeyOn: true}
			continue
		case !slices.Contains(zeroed(), name):
			return nil, fmt.Errorf("found %q: want key-on, or a pressure's column with what it reads at its zero, such as \"turbine_in_kpa = -1.2 kPa\": %s", strings.TrimSpace(part), entry.Expected(name, zeroed()))
		case !stated || isKeyOn(figure):
			z[name] = schema.ZeroAsk{KeyOn: true}
			continue
		}
		if strings.EqualFold(figure, "none") { // Not of this one, whatever holds for all.
			z[name] = schema.ZeroAsk{}
			continue
		}
		q, err := entry.Quantity(figure, entry.Want{Unit: "kPa", Reference: schema.Difference, Low: -zeroMost, High: zeroMost, Example: "-1.2 kPa, or key-on"})
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		z[name] = schema.ZeroAsk{KPa: q.Value}
	}
	return z, nil
}

func isKeyOn(text string) bool {
	switch strings.ToLower(text) {
	case KeyOn, "key on", "keyon", "key_on":
		return true
	}
	return false
}

// zeroed lists the columns whose zero is looked at.
func zeroed() []string {
	return []string{"inlet_kpa", "map_kpa", "compressor_out_kpa", "turbine_in_kpa", "turbine_out_kpa", "dpf_delta_kpa", "exhaust_total_kpa"}
}

// zeroText is a rule's zero in one spelling.
func zeroText(a *schema.ZeroAsk) string {
	switch {
	case a == nil:
		return ""
	case a.KeyOn:
		return " zero=" + KeyOn
	}
	return fmt.Sprintf(" zero=%g", a.KPa)
}
