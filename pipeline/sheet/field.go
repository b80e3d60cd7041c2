package sheet

import (
	"strings"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

// The fields of a run sheet, in their order. date and time are halves of started_at, as spreadsheets have it.
var fields = []string{"files", "vehicle", "calibration", "hardware", "test", "started_at", "dyno", "gear", "baro", "ambient", "humidity", "dew_point", "wet_bulb", "zero", "standard", "note"}

// words are other names that people give to the fields.
var words = map[string]string{
	"file": "files", "filename": "files", "file_name": "files", "log": "files", "logs": "files", "log_file": "files", "log_files": "files", "logfile": "files",
	"vehicle_id": "vehicle", "cal": "calibration", "calibration_name": "calibration", "tune": "calibration", "test_kind": "test", "test_type": "test",
	"start": "started_at", "started": "started_at", "start_time": "started_at", "date_time": "started_at", "datetime": "started_at", "date": "date", "time": "time",
	"barometer": "baro", "barometric": "baro", "barometric_pressure": "baro", "ambient_temperature": "ambient", "ambient_temp": "ambient",
	"relative_humidity": "humidity", "rh": "humidity", "dewpoint": "dew_point", "dew_point_temperature": "dew_point", "wetbulb": "wet_bulb", "wet_bulb_temperature": "wet_bulb", "zeros": "zero", "correction": "standard", "notes": "note", "comment": "note", "comments": "note", "remark": "note", "remarks": "note",
}

// heading is a column's heading as understood: a field, or "" for one that is none, and the unit that it carries.
func heading(text string) (field, unit string) {
	text = strings.TrimSpace(text)
	if f, ok := field1(text); ok {
		return f, ""
	}
	if i := strings.IndexAny(text, "[("); i > 0 && strings.ContainsAny(text[i:], "])") {
		inside := strings.TrimRight(strings.TrimSpace(text[i+1:]), ")] ")
		if f, ok := field1(text[:i]); ok {
			return f, inside
		}
		return "", ""
	}
	for _, separator := range []string{" in ", " ", "_", "-", "/", ","} {
		for i := 0; i < len(text); i++ {
			if !strings.HasPrefix(text[i:], separator) {
				continue
			}
			f, ok := field1(text[:i])
			if !ok {
				continue
			}
			if _, known := schema.ParseUnit(text[i+len(separator):]); known {
				return f, text[i+len(separator):]
			}
		}
	}
	return "", ""
}

// longestField is how many letters a field's name has at the most.
const longestField = 24

func field1(text string) (string, bool) {
	if !short(text) {
		return "", false // A whole line, as it is one cell under another separator.
	}
	name := strings.Trim(entry.Fold(strings.TrimSpace(text)), "_:")
	for _, f := range fields {
		if f == name {
			return f, true
		}
	}
	f, ok := words[name]
	return f, ok
}

// short reports whether a text has few enough letters for a field's name.
func short(text string) bool {
	n := 0
	for i := 0; i < len(text) && n <= longestField; i++ {
		if c := text[i] | 0x20; c >= 'a' && c <= 'z' {
			n++
		}
	}
	return n <= longestField
}
