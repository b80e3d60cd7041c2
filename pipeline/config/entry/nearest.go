package entry

import (
	"fmt"
	"strings"

	"dynolake/schema"
)

// Nearest gives the name that a misspelt word probably means, or "" when none is near. Case, blanks and dashes do not count.
func Nearest(word string, names []string) string { return schema.Nearest(Fold(word), names) }

// Expected words what was wanted: the nearest name first where there is one, else the list.
func Expected(word string, names []string) string {
	if n := Nearest(word, names); n != "" {
		return fmt.Sprintf("did you mean %q? want one of %s", n, strings.Join(names, ", "))
	}
	return "want one of " + strings.Join(names, ", ")
}
