package entry

import (
	"regexp"
	"strconv"
	"strings"
)

// thousands is the beginning of a number whose thousands stand apart by a blank or an apostrophe.
var thousands = regexp.MustCompile(`^[+\-−]?\d{1,3}(?:[ \x{a0}\x{202f}'’]\d{3})+`)

// numeral is how a number begins.
var numeral = regexp.MustCompile(`^[+\-−]?[.,]?\d`)

// split parts a number from what stands behind it; number is empty when the text does not begin with one.
func split(text string) (number, rest string) {
	text = strings.TrimSpace(text)
	if !numeral.MatchString(text) {
		return "", text
	}
	grouped := thousands.FindString(text)
	i := len(grouped)
	for i < len(text) {
		c := text[i]
		digit := c >= '0' && c <= '9'
		sign := (c == '+' || c == '-') && (i == 0 || text[i-1] == 'e' || text[i-1] == 'E')
		exponent := (c == 'e' || c == 'E') && i > 0 && exponentAhead(text[i+1:])
		if strings.HasPrefix(text[i:], "−") && i == 0 {
			i += len("−")
			continue
		}
		if !digit && !sign && !exponent && c != '.' && c != ',' {
			break
		}
		i++
	}
	return text[:i], strings.TrimSpace(text[i:])
}

func exponentAhead(s string) bool {
	s = strings.TrimLeft(s, "+-")
	return s != "" && s[0] >= '0' && s[0] <= '9'
}

var blanks = strings.NewReplacer(" ", "", "\u00a0", "", "\u202f", "", "'", "", "’", "", "−", "-")

// readings gives what a number's text can mean, likeliest first: 99,1 is 99.1, and 1,013 is 1.013 or 1013.
func readings(number string) []float64 {
	s := blanks.Replace(number)
	points, commas := strings.Count(s, "."), strings.Count(s, ",")
	var texts []string
	switch {
	case points > 0 && commas > 0:
		if strings.LastIndex(s, ",") > strings.LastIndex(s, ".") {
			texts = []string{strings.Replace(strings.ReplaceAll(s, ".", ""), ",", ".", 1)}
		} else {
			texts = []string{strings.ReplaceAll(s, ",", "")}
		}
	case commas == 1:
		texts = []string{strings.Replace(s, ",", ".", 1)}
		if whole, behind, _ := strings.Cut(s, ","); len(behind) == 3 && len(strings.TrimLeft(whole, "+-0")) > 0 {
			texts = append(texts, whole+behind)
		}
	case commas > 1:
		texts = []string{strings.ReplaceAll(s, ",", "")}
	case points > 1:
		texts = []string{strings.ReplaceAll(s, ".", "")}
	default:
		texts = []string{s}
	}
	var out []float64
	for _, t := range texts {
		if x, err := strconv.ParseFloat(t, 64); err == nil {
			out = append(out, x)
		}
	}
	return out
}
