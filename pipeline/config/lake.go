package config

import (
	"regexp"
	"strconv"
	"strings"
	"time"
	_ "time/tzdata" // A bare machine may have no list of time zones.

	"dynolake/pipeline/config/entry"
)

func (c *Config) readLake(root entry.Value) error {
	f := entry.NewForm(root)
	f.Close("timezone")
	if name := f.Text("timezone"); name != "" {
		loc, ok := Zone(name)
		if !ok {
			f.Fail(f.At("timezone"), "timezone", "found %q: want a zone's name such as Europe/Vienna, UTC, or an offset such as +02:00", name)
		} else {
			c.Location = loc
		}
	}
	return f.Err()
}

var offset = regexp.MustCompile(`^(?:UTC|GMT)?([+-])(\d{1,2}):?(\d{2})?$`)

// Zone reads the name of a time zone, or an offset from UTC: Europe/Vienna, UTC, +02:00.
func Zone(name string) (*time.Location, bool) {
	name = strings.TrimSpace(name)
	switch strings.ToUpper(name) {
	case "UTC", "Z", "GMT":
		return time.UTC, true
	case "", "LOCAL":
		return nil, false // What the machine says would make the same log another run elsewhere.
	}
	if m := offset.FindStringSubmatch(strings.ToUpper(name)); m != nil {
		hours, _ := strconv.Atoi(m[2])
		minutes, _ := strconv.Atoi(m[3])
		seconds := hours*3600 + minutes*60
		if hours > 14 || minutes > 59 {
			return nil, false
		}
		if m[1] == "-" {
			seconds = -seconds
		}
		return time.FixedZone(name, seconds), true
	}
	loc, err := time.LoadLocation(name)
	return loc, err == nil
}
