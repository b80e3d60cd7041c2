package mapping

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"dynolake/schema"
)

// texts lists the different texts of a channel, sorted.
func texts(s schema.Series, channel int) []string {
	var out []string
	seen := map[string]bool{}
	for _, x := range s.Texts {
		if x.Channel == channel && !seen[x.Text] {
			seen[x.Text] = true
			out = append(out, x.Text)
		}
	}
	slices.Sort(out)
	return out
}

// states gives the texts of a state's channel their values, and the texts that mean nothing known. A text such as n/a, which
// says that there is no value, is in neither.
func states(column string, list []string) (known map[string]float64, unknown []string) {
	for _, text := range list {
		v, ok := state(column, text)
		switch {
		case ok:
			if known == nil {
				known = map[string]float64{}
			}
			known[text] = v
		case !blankText(text):
			unknown = append(unknown, text)
		}
	}
	return known, unknown
}

func blankText(text string) bool {
	switch strings.Trim(strings.ToLower(strings.TrimSpace(text)), "-./ ?*") {
	case "", "na", "n/a", "n.a", "nan", "null", "none", "nil", "error", "err", "invalid", "inf", "sna", "not available", "unknown", "unavailable", "no data", "nodata", "unavail":
		return true
	}
	return false
}

var stateFolds = strings.NewReplacer("_", " ", "-", " ", ".", " ", "(", " ", ")", " ")

// state reads one text of a state column.
func state(column, text string) (float64, bool) {
	t := strings.Join(strings.Fields(stateFolds.Replace(strings.ToLower(text))), " ")
	if column == "gear" {
		return gear(t)
	}
	switch t {
	case "on", "true", "yes", "ja", "y", "1", "active", "aktiv", "enabled", "engaged", "ein":
		return 1, true
	case "off", "false", "no", "nein", "n", "0", "inactive", "not active", "inaktiv", "nicht aktiv", "disabled", "disengaged", "not engaged", "aus":
		return 0, true
	}
	if column == "converter_locked_frac" {
		return lock(t)
	}
	return regen(t)
}

func lock(t string) (float64, bool) {
	switch t {
	case "locked", "lock", "applied", "apply", "closed", "lockup", "full lock", "fully locked", "full", "geschlossen":
		return 1, true
	case "unlocked", "unlock", "open", "released", "release", "not locked", "not applied", "offen":
		return 0, true
	case "slipping", "slip", "partial", "partially locked", "controlled slip", "modulating", "schlupf":
		return 0.5, true // Neither locked nor open: the column is a share, and half is its middle.
	}
	return 0, false
}

func regen(t string) (float64, bool) {
	switch t {
	case "regenerating", "regeneration", "regen", "running", "in progress", "active regeneration", "regeneration active", "regen active", "ongoing", "started":
		return 1, true
	case "not regenerating", "idle", "not running", "no regen", "no regeneration", "not required", "not needed", "not in progress", "complete", "completed", "finished",
		"requested", "required", "needed", "pending", "inhibited", "regeneration not active", "regen not active", "regeneration needed", "stopped":
		return 0, true
	}
	return 0, false
}

var gearText = regexp.MustCompile(`^(?:gear |gang |[dmsl] ?)?([0-9]{1,2})(?:st|nd|rd|th|\.)?(?: gear| gang)?$`)

// gear reads a gear's text: neutral and park are 0, reverse is below 0. D alone says only that some forward gear is engaged, so
// it has no number.
func gear(t string) (float64, bool) {
	switch t {
	case "n", "neutral", "p", "park", "parking", "leerlauf":
		return 0, true
	case "r", "rev", "reverse", "r1", "rueckwaerts", "rückwärts":
		return -1, true
	case "r2":
		return -2, true
	case "first":
		return 1, true
	case "second":
		return 2, true
	case "third":
		return 3, true
	case "fourth":
		return 4, true
	case "fifth":
		return 5, true
	case "sixth":
		return 6, true
	}
	if m := gearText.FindStringSubmatch(t); m != nil {
		v, err := strconv.ParseFloat(m[1], 64)
		return v, err == nil
	}
	return 0, false
}

// drive reports whether a gear's text says a forward range without a number: nothing is lost by leaving it out.
func drive(text string) bool {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "d", "drive", "s", "sport", "m", "manual", "l", "low":
		return true
	}
	return false
}
