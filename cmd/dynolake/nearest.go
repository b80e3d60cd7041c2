package main

import (
	"fmt"

	"dynolake/schema"
)

// nearest gives `, did you mean "…"?` for the closest of names, or nothing when none is close.
func nearest(word string, names []string) string {
	if best := schema.Nearest(word, names); best != "" {
		return fmt.Sprintf(", did you mean %q?", best)
	}
	return ""
}
