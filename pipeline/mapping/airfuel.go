package mapping

import (
	"math"
	"strings"

	"dynolake/schema"
)

// airFuel reports a channel whose name or unit says air-fuel ratio.
func airFuel(ch schema.Channel) bool {
	for _, text := range [...]string{ch.Name, ch.Unit} {
		for _, camel := range [...]bool{true, false} {
			w := tokens(text, camel)
			if contains(w, "afr") || contains(w, "air") && contains(w, "fuel") && contains(w, "ratio") {
				return true
			}
		}
		if strings.Contains(strings.ToLower(text), "a/f") {
			return true
		}
	}
	return false
}

// airFuelRatio leaves an air-fuel ratio unmapped: displays count lambda in the ratio of petrol (14.7) or of the fuel burnt (near
// 14.5 for diesel), and a header says neither. Common practice, no source.
func airFuelRatio(source, name string) schema.Claim {
	const why = "an air-fuel ratio is lambda times the stoichiometric ratio of its scale, 14.7 on a petrol scale and near 14.5 on a diesel's, and the header does not say which"
	return schema.Claim{Scale: 1, Why: why + ": add a mapping to lambda_ratio with factor: 1 over it", Guesses: []schema.Finding{
		find(source, schema.Doubt, "air_fuel_scale", name, why+": left unmapped; add a mapping to lambda_ratio with factor: 0.06803 (1/14.7) or 0.06897 (1/14.5)", math.NaN(), "")}}
}
