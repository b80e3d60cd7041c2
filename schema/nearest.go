package schema

// Nearest gives the name closest to a misspelt word, or "" when none is close: at most half of its letters may differ.
func Nearest(word string, names []string) string {
	best, least := "", len(word)/2+1
	for _, n := range names {
		if d := letters(word, n); d < least {
			best, least = n, d
		}
	}
	return best
}

// letters is the number of bytes to insert, drop or change (Levenshtein).
func letters(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			diagonal, row[j] = row[j], min(row[j]+1, row[j-1]+1, diagonal+cost)
		}
	}
	return row[len(b)]
}
