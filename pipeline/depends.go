package pipeline

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"dynolake/pipeline/mapping"
	"dynolake/schema"
)

// Version is of what derives a run: it rises whenever the same bytes would give other rows.
const Version = "5"

// depends is everything that a run's rows follow from, as the catalogue keeps it beside the run. A run is made again when
// one of its parts differs from today's.
type depends struct {
	Version  string   `json:"version"`
	Members  []member `json:"members"`
	Part     int      `json:"part"`
	Sheet    stated   `json:"sheet"`
	Sheeted  bool     `json:"sheeted"` // A run sheet or an option stated something.
	Vehicle  string   `json:"vehicle"` // Fingerprint of the entry.
	Dyno     string   `json:"dyno"`
	Mappings string   `json:"mappings"` // Of the rules that speak of its channels.
	Zone     string   `json:"zone"`
	CAN      bool     `json:"can,omitempty"`       // A source is a log of a CAN bus.
	Database string   `json:"databases,omitempty"` // Fingerprint of the lake's CAN databases, for such a run.

	AllMappings string   `json:"all_mappings"` // Of every rule: as long as it stays, Mappings does.
	Channels    []header `json:"channels"`     // Last: readBrief cuts them off.
}

// header is a channel as logged: enough to tell whether a mapping speaks of it.
type header struct {
	Source string `json:"s"`
	Name   string `json:"n"`
	Unit   string `json:"u,omitempty"`
}

// member is one source of a run, in the order of its SHA-256.
type member struct {
	Source string `json:"source"`
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
	At     string `json:"at,omitempty"` // Sheet of a workbook.

	In       string `json:"in,omitempty"`       // Its path in the archive that SHA256 and Bytes are of.
	Leaf     string `json:"leaf,omitempty"`     // SHA-256 of what is packed there.
	Unpacked int64  `json:"unpacked,omitempty"` // Bytes of it.
	Cut      bool   `json:"cut,omitempty"`      // What is packed breaks off: these are its whole lines.

	Databases []database `json:"databases,omitempty"` // CAN databases beside it.

	heads []string // SHA-256 of its beginnings that are cut sources elsewhere.
}

// fingerprint stands for all that matters; the sources' names do not.
func (d depends) fingerprint() string {
	d.Members = slices.Clone(d.Members)
	for i, m := range d.Members {
		d.Members[i] = member{SHA256: m.key()} // Not its name, nor whether it is packed.
		for _, db := range m.Databases {
			d.Members[i].Databases = append(d.Members[i].Databases, database{SHA256: db.SHA256})
		}
	}
	d.Sheet.Origin = ""
	d.AllMappings, d.Channels = "", nil // They follow from the bytes and from Mappings.
	text, _ := json.Marshal(d)          // Strings and numbers always marshal.
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

func (d depends) text() string {
	text, _ := json.Marshal(d)
	return string(text)
}

// today is the same run's state with today's configuration and program.
func (d depends) today(r *Recipe) depends {
	d.Version = Version
	d.Zone = r.Config.Location.String()
	if d.CAN {
		d.Database = r.can.sum
	}
	d.Dyno = ""
	if dyno, ok := r.Config.Dyno(d.Sheet.Dyno); ok {
		d.Dyno = dyno.Fingerprint
	}
	vehicle, _ := r.Config.Vehicle(d.Sheet.Vehicle)
	d.Vehicle = vehicle.Fingerprint
	if all := r.Rules.Fingerprint(); all != d.AllMappings {
		d.AllMappings = all
		d.Mappings = r.Rules.Used(d.logs(), mapping.Context{Sheet: d.Sheet.sheet(), Vehicle: &vehicle.Vehicle})
	}
	return d
}

// stands reports whether a run would be made again as it is: d says what it depends on, but for its channels where the mappings are the same.
func (d depends) stands(r *Recipe) bool {
	now := d.today(r)
	return now.Version == d.Version && now.Zone == d.Zone && now.Database == d.Database && now.Dyno == d.Dyno && now.Vehicle == d.Vehicle && now.Mappings == d.Mappings
}

// logs is the run's logs with their headers alone.
func (d depends) logs() []schema.Log {
	var logs []schema.Log
	for _, h := range d.Channels {
		if n := len(logs); n == 0 || logs[n-1].Source != h.Source {
			logs = append(logs, schema.Log{Source: h.Source, Series: make([]schema.Series, 1)})
		}
		s := &logs[len(logs)-1].Series[0]
		s.Channels = append(s.Channels, schema.Channel{Name: h.Name, Unit: h.Unit})
	}
	return logs
}

func headers(logs []schema.Log) []header {
	var list []header
	for _, l := range logs {
		for _, s := range l.Series {
			for _, c := range s.Channels {
				list = append(list, header{l.Source, c.Name, c.Unit})
			}
		}
	}
	return list
}

func readDepends(text string) (depends, error) {
	var d depends
	if err := json.Unmarshal([]byte(text), &d); err != nil {
		return d, fmt.Errorf("read what a stored run depends on: %w", err)
	}
	return d, nil
}

// readBrief is readDepends without the channels: they are most of the text, and are asked for where mappings were edited alone.
func readBrief(text string) (depends, error) {
	if at := strings.Index(text, channelsKey); at >= 0 { // No text in it holds that: its quotes would have a stroke before them.
		text = text[:at] + "}"
	}
	return readDepends(text)
}

const channelsKey = `,"channels":`

// changed names what differs from an earlier state, for people.
func (d depends) changed(was depends) string {
	var parts []string
	for _, p := range []struct {
		name     string
		now, was any
	}{
		{"program version", d.Version, was.Version}, {"vehicle entry", d.Vehicle, was.Vehicle}, {"dyno entry", d.Dyno, was.Dyno},
		{"mappings", d.Mappings, was.Mappings}, {"time zone", d.Zone, was.Zone}, {"CAN databases", d.databases(), was.databases()},
	} {
		if p.now != p.was {
			parts = append(parts, p.name)
		}
	}
	if what := d.Sheet.changed(was.Sheet); what != "" {
		parts = append(parts, "run sheet ("+what+")")
	}
	return strings.Join(parts, ", ")
}

// runID is 16 hex digits from the sources' bytes, in no order, and the part.
func runID(members []member, part int) string {
	sums := make([]string, len(members))
	for i, m := range members {
		sums[i] = m.key()
	}
	slices.Sort(sums)
	text := strings.Join(slices.Compact(sums), "\n")
	if part > 0 {
		text += "\npart " + strconv.Itoa(part)
	}
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:8])
}

// stated is a sheet's content as texts, which JSON can hold whatever is missing.
type stated struct {
	Vehicle     string `json:"vehicle,omitempty"`
	Calibration string `json:"calibration,omitempty"`
	Hardware    string `json:"hardware,omitempty"`
	Test        string `json:"test,omitempty"`
	StartedAt   string `json:"started_at,omitempty"`
	Dyno        string `json:"dyno,omitempty"`
	Gear        string `json:"gear,omitempty"`
	Baro        string `json:"baro,omitempty"`
	Ambient     string `json:"ambient,omitempty"`
	Humidity    string `json:"humidity,omitempty"`
	DewPoint    string `json:"dew_point,omitempty"`
	WetBulb     string `json:"wet_bulb,omitempty"`
	Zero        string `json:"zero,omitempty"`
	Standard    string `json:"standard,omitempty"`
	Note        string `json:"note,omitempty"`
	Origin      string `json:"origin,omitempty"`
}

func number(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

func parsed(s string) float64 {
	if v, err := strconv.ParseFloat(s, 64); err == nil {
		return v
	}
	return math.NaN()
}

func state(s schema.Sheet) stated {
	return stated{s.Vehicle, s.Calibration, s.Hardware, s.Test, s.StartedAt, s.Dyno, number(s.Gear), number(s.BaroKPa), number(s.AmbientC), number(s.HumidityPct), number(s.DewPointC), number(s.WetBulbC), s.Zero, s.Standard, s.Note, s.Origin}
}

func (s stated) sheet() schema.Sheet {
	return schema.Sheet{Vehicle: s.Vehicle, Calibration: s.Calibration, Hardware: s.Hardware, Test: s.Test, StartedAt: s.StartedAt, Dyno: s.Dyno, Gear: parsed(s.Gear),
		BaroKPa: parsed(s.Baro), AmbientC: parsed(s.Ambient), HumidityPct: parsed(s.Humidity), DewPointC: parsed(s.DewPoint), WetBulbC: parsed(s.WetBulb), Zero: s.Zero, Standard: s.Standard, Note: s.Note, Origin: s.Origin}
}

// empty reports whether nothing is stated.
func (s stated) empty() bool {
	s.Origin = ""
	return s == stated{}
}

// changed names the fields that differ.
func (s stated) changed(was stated) string {
	return s.differ(was, func(now, was string) bool { return now != was })
}

// contradicts names the fields that both state, and state otherwise.
func (s stated) contradicts(other stated) string {
	return s.differ(other, func(a, b string) bool { return a != "" && b != "" && a != b })
}

func (s stated) differ(was stated, differ func(now, was string) bool) string {
	var parts []string
	for _, p := range []struct{ name, now, was string }{
		{"vehicle", s.Vehicle, was.Vehicle}, {"calibration", s.Calibration, was.Calibration}, {"hardware", s.Hardware, was.Hardware}, {"test", s.Test, was.Test},
		{"started_at", s.StartedAt, was.StartedAt}, {"dyno", s.Dyno, was.Dyno}, {"gear", s.Gear, was.Gear}, {"baro", s.Baro, was.Baro}, {"ambient", s.Ambient, was.Ambient},
		{"humidity", s.Humidity, was.Humidity}, {"dew_point", s.DewPoint, was.DewPoint}, {"wet_bulb", s.WetBulb, was.WetBulb}, {"zero", s.Zero, was.Zero}, {"standard", s.Standard, was.Standard}, {"note", s.Note, was.Note},
	} {
		if differ(p.now, p.was) {
			parts = append(parts, p.name)
		}
	}
	return strings.Join(parts, ", ")
}
