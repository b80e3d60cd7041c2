package config

import (
	"slices"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

// lagged are the columns that a probe's lag can be stated of: those of exhaust gas, whose temperature falls at once when the fuel is cut.
var lagged = [...]string{"turbine_in_c", "turbine_out_c"}

// lags reads what is asked of slow probes: {turbine_in_c: estimate}, or correct, or a time constant such as 2.5 s.
func lags(f *entry.Form, v *schema.Vehicle) {
	field, ok := f.Value.Field("lag")
	if !ok || field.Value.Kind == entry.Null {
		return
	}
	if field.Value.Kind != entry.Map {
		f.Fail(field.Value.At, "lag", "found %q: want columns and what is asked of each, such as {turbine_in_c: estimate}", field.Value.Text)
		return
	}
	v.Lag = map[string]schema.Lag{}
	for _, item := range field.Value.Fields {
		if !slices.Contains(lagged[:], item.Name) {
			f.Fail(item.Value.At, "lag", "found %q: %s", item.Name, entry.Expected(item.Name, lagged[:]))
			continue
		}
		switch text := item.Value.Text; text {
		case "estimate":
			v.Lag[item.Name] = schema.Lag{}
		case "correct":
			v.Lag[item.Name] = schema.Lag{Correct: true}
		default:
			q, err := entry.Quantity(text, entry.Want{Unit: "s", Low: 0.05, High: 60, Example: "2.5 s, or estimate, or correct"})
			if err != nil {
				f.Fail(item.Value.At, "lag", "%s: %w", item.Name, err)
				continue
			}
			v.Lag[item.Name] = schema.Lag{TimeS: q.Value, Correct: true}
		}
	}
}
