package sheet

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// layouts are the ways a moment is written whose order cannot be mistaken. A fraction of a second is read after any of
// them that ends in seconds.
var (
	dates  = []string{"2006-1-2", "2006/1/2", "2006.1.2", "2.1.2006", "2.1.06", "2-Jan-2006", "2-Jan-06", "2 Jan 2006", "2 January 2006", "2. January 2006", "Jan 2, 2006", "January 2, 2006", "Jan 2 2006"}
	clocks = []string{"", "15:04", "15:04:05", "3:04 PM", "3:04:05 PM", "3:04PM", "3:04:05PM", "15.04"}
	zones  = []string{"", "Z07:00", " Z07:00", "-0700", " -0700", "-07", " -07"}
)

// slashed is a date such as 03/05/2026, whose first part is a month or a day.
var slashed = regexp.MustCompile(`^(\d{1,2})([/-])(\d{1,2})[/-](\d{4}|\d{2})\b`)

const wantTime = "want a date and time such as 2026-03-05 14:30, 05.03.2026 14:30 or 2026-03-05T14:30:00+01:00"

// Time reads when a run was started: RFC 3339, 2026-03-05 14:30, 05.03.2026 14:30, 5 March 2026 2:30 PM, or a date alone, which is its
// midnight. Without a zone it is a time in loc. A date such as 03/05/2026, which may be March or May, is refused; 13/05/2026 can only be May.
func Time(text string, loc *time.Location) (time.Time, error) {
	s := strings.Join(strings.Fields(strings.ReplaceAll(text, ",", ", ")), " ")
	s = strings.Join(strings.Fields(strings.ReplaceAll(s, " , ", ", ")), " ")
	if s == "" {
		return time.Time{}, fmt.Errorf("found %q: %s", text, wantTime)
	}
	if m := slashed.FindStringSubmatch(s); m != nil {
		ordered, err := order(m, s)
		if err != nil {
			return time.Time{}, fmt.Errorf("found %q: %w", text, err)
		}
		s = ordered
	}
	s = strings.TrimSuffix(strings.TrimSuffix(s, " UTC"), " GMT") + zoneOf(s)
	upper := meridiem(s)
	for _, date := range dates {
		for _, clock := range clocks {
			for _, join := range []string{" ", "T", ", "} {
				if clock == "" && join != " " {
					continue
				}
				for _, zone := range zones {
					layout := date
					if clock != "" {
						layout += join + clock + zone
					} else if zone != "" {
						continue
					}
					if t, err := time.ParseInLocation(layout, upper, loc); err == nil {
						return t, nil
					}
				}
			}
		}
	}
	return time.Time{}, fmt.Errorf("found %q: %s", text, wantTime)
}

// zoneOf spells UTC and GMT behind a time as an offset.
func zoneOf(s string) string {
	if strings.HasSuffix(s, " UTC") || strings.HasSuffix(s, " GMT") {
		return "Z"
	}
	return ""
}

// meridiem writes am and pm, a.m. and p.m. as the layouts have them, and a lower-case t or z of RFC 3339 in capitals.
func meridiem(s string) string {
	for _, m := range []string{"am", "pm"} {
		for _, spelled := range []string{m, m[:1] + ".m.", strings.ToUpper(m[:1]) + ".M."} {
			if before, ok := strings.CutSuffix(s, spelled); ok {
				return before + strings.ToUpper(m)
			}
		}
	}
	if len(s) > 10 && s[10] == 't' {
		s = strings.ToUpper(s)
	}
	return s
}

// order brings a date in slashes or dashes into year-month-day where one part can only be the day.
func order(m []string, s string) (string, error) {
	a, _ := strconv.Atoi(m[1])
	b, _ := strconv.Atoi(m[3])
	year := m[4]
	if len(year) == 2 {
		year = "20" + year
	}
	day, month := a, b
	switch {
	case a == b:
	case a > 12 && b <= 12:
	case b > 12 && a <= 12:
		day, month = b, a
	case a <= 12 && b <= 12:
		return "", fmt.Errorf("a date that is read as %d %s or as %d %s: %s", b, time.Month(a), a, time.Month(b), wantTime)
	}
	return fmt.Sprintf("%s-%d-%d%s", year, month, day, s[len(m[0]):]), nil
}
