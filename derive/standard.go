package derive

import "strings"

// NoStandard is the name of leaving power as measured.
const NoStandard = "none"

var designation = strings.NewReplacer(" ", "", "-", "", ":", "", "_", "", ".", "", "/", "", "(", "", ")", "", "\u00a0", "")

// ParseStandard finds a standard by its designation, without regard to case and separators: "ISO 1585:1992", "SAE J1349-2004".
func ParseStandard(text string) (Standard, bool) {
	folded := designation.Replace(strings.ToLower(text))
	for _, s := range Standards() {
		if designation.Replace(s.Name) == folded {
			return s, true
		}
	}
	return Standard{}, false
}
