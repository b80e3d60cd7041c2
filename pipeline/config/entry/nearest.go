package entry

import (
	"fmt"
	"strings"
)

// Nearest gives the name of the list that differs least from word in letters added, dropped, changed or swapped, or "" when
// none is near: a third of the letters at the most.
func Nearest(word string, names []string) string {
	word = Fold(word)
	best, nearest := max(1, len([]rune(word))/3)+1, ""
	for _, n := range names {
		if d := distance([]rune(word), []rune(Fold(n))); d < best {
			best, nearest = d, n
		}
	}
	return nearest
}

// Expected words what was wanted: the nearest name first where there is one, else the list.
func Expected(word string, names []string) string {
	if n := Nearest(word, names); n != "" {
		return fmt.Sprintf("did you mean %q? want one of %s", n, strings.Join(names, ", "))
	}
	return "want one of " + strings.Join(names, ", ")
}

// distance counts edits between two words, a swap of neighbours being one (optimal string alignment).
func distance(a, b []rune) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}
