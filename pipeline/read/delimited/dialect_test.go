package delimited_test

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
)

// truth is one log that every dialect below writes: three channels at 20 Hz from 12:59:58, with gaps.
type truth struct {
	t      []float64
	names  []string
	units  []string
	values [][]float64
}

func invent(rows int) truth {
	v := truth{names: []string{"Engine speed", "Boost", "Öltemp"}, units: []string{"1/min", "kPa", "°C"}, values: make([][]float64, 3)}
	for i := range rows {
		v.t = append(v.t, float64(i)*50/1000)
		v.values[0] = append(v.values[0], 800+float64(i*7)/4)
		v.values[1] = append(v.values[1], 101.3+float64(i%13)/8)
		oil := math.NaN()
		if i%5 == 0 {
			oil = float64(i%40) - 10
		}
		v.values[2] = append(v.values[2], oil)
	}
	return v
}

type dialect struct {
	delim, point, void, quote, eol, encoding, head, clock, preamble string
}

func (d dialect) String() string {
	return strings.Join([]string{strconv.Quote(d.delim), d.point, strconv.Quote(d.void), d.quote, strconv.Quote(d.eol), d.encoding, d.head, d.clock, strconv.Quote(d.preamble[:min(8, len(d.preamble))])}, " ")
}

var began = time.Date(2024, 3, 25, 12, 59, 58, 0, time.UTC)

// stampOf writes a time; its header and unit come first.
func (d dialect) stampOf(t float64) (name, unit, cell string) {
	at := began.Add(time.Duration(math.Round(t*1000)) * time.Millisecond)
	layout := ""
	switch d.clock {
	case "s":
		return "Time", "s", d.decimal(strconv.FormatFloat(t, 'f', 3, 64))
	case "ms":
		return "Zeit", "ms", strconv.Itoa(int(math.Round(t * 1000)))
	case "min":
		return "Elapsed", "min", d.decimal(strconv.FormatFloat(t/60, 'f', -1, 64))
	case "epoch":
		return "Timestamp", "", strconv.FormatInt(at.UnixMilli(), 10)
	case "m:s":
		s := int(t)
		return "time", "", fmt.Sprintf("%d:%02d%s%03d", s/60, s%60, d.point, int(math.Round(t*1000))%1000)
	case "clock":
		layout = "15:04:05.000"
	case "iso":
		layout = "2006-01-02T15:04:05.000Z07:00"
	case "german":
		layout = "02.01.2006 15:04:05.000"
	case "us":
		layout = "01/02/2006 3:04:05.000 PM"
	case "month":
		layout = "02-Jan-2006 15:04:05.000"
	}
	return "Timestamp", "", d.decimal(at.Format(layout))
}

func (d dialect) decimal(s string) string {
	if i := strings.LastIndexByte(s, '.'); i >= 0 && d.point == "," {
		return s[:i] + "," + s[i+1:]
	}
	return s
}

func (d dialect) write(v truth) []byte {
	var b strings.Builder
	line := func(cells []string) {
		for i, c := range cells {
			if i > 0 {
				b.WriteString(d.delim)
			}
			if d.quote == "all" || strings.Contains(c, d.delim) {
				c = `"` + c + `"`
			}
			b.WriteString(c)
		}
		b.WriteString(d.eol)
	}
	b.WriteString(strings.ReplaceAll(d.preamble, "\n", d.eol))
	name, unit, _ := d.stampOf(0)
	names, units := append([]string{name}, v.names...), append([]string{unit}, v.units...)
	switch d.head {
	case "row":
		line(names)
		for i := range units {
			if units[i] != "" {
				units[i] = "[" + units[i] + "]"
			}
		}
		line(units)
	default:
		for i := range names {
			if units[i] != "" {
				names[i] += strings.ReplaceAll(d.head, "U", units[i])
			}
		}
		line(names)
	}
	for i, t := range v.t {
		_, _, cell := d.stampOf(t)
		cells := []string{cell}
		for _, ch := range v.values {
			s := d.void
			if !math.IsNaN(ch[i]) {
				s = d.decimal(strconv.FormatFloat(ch[i], 'f', -1, 64))
			}
			cells = append(cells, s)
		}
		line(cells)
	}
	return d.encode(b.String())
}

func (d dialect) encode(s string) []byte {
	var out []byte
	var err error
	switch d.encoding {
	case "1252":
		out, err = charmap.Windows1252.NewEncoder().Bytes([]byte(s))
	case "utf16":
		out, err = unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().Bytes([]byte(s))
	case "bom":
		out = []byte("\xef\xbb\xbf" + s)
	default:
		out = []byte(s)
	}
	if err != nil {
		panic(err)
	}
	return out
}

// Every way of writing the log must give the same log back.
func TestDialects(t *testing.T) {
	v := invent(300)
	var preambles = []string{"", "Test run 4\nVehicle: Van 7\n\n", "Operator;J\nMass;1500;kg\nInertia;1,5\n\n", strings.Repeat("Calibration cell;1;2;3;4;5\n", 700)}
	n := 0
	for _, delim := range []string{",", ";", "\t", "|"} {
		for _, point := range []string{".", ","} {
			for _, clock := range []string{"s", "ms", "min", "epoch", "m:s", "clock", "iso", "german", "us", "month"} {
				for _, head := range []string{"row", " [U]", " (U)", "[U]"} {
					d := dialect{delim: delim, point: point, clock: clock, head: head}
					d.void = []string{"", "NaN", "-", "n.a.", "#N/A"}[n%5]
					d.quote = []string{"", "all", ""}[n%3]
					d.eol = []string{"\n", "\r\n", "\r"}[n/2%3]
					d.encoding = []string{"", "1252", "utf16", "bom"}[n/3%4]
					d.preamble = preambles[n/5%4]
					n++
					compare(t, d, v)
				}
			}
		}
	}
}

func compare(t *testing.T, d dialect, v truth) {
	t.Helper()
	src := readtest.Bytes("log.csv", d.write(v))
	r, err := read.Detect(context.Background(), src)
	if err != nil {
		t.Errorf("%s: %v", d, err)
		return
	}
	logs, err := read.Collect(context.Background(), r, src)
	if err != nil || len(logs) != 1 || len(logs[0].Series) != 1 {
		t.Errorf("%s: %d logs, %v", d, len(logs), err)
		return
	}
	s := logs[0].Series[0]
	if len(s.T) != len(v.t) || len(s.Channels) != len(v.names) || len(s.Texts) > 0 {
		t.Errorf("%s: %d rows, %d channels, %d texts; want %d, %d, 0", d, len(s.T), len(s.Channels), len(s.Texts), len(v.t), len(v.names))
		return
	}
	for i, c := range s.Channels {
		if c.Name != v.names[i] || c.Unit != v.units[i] {
			t.Errorf("%s: channel %q [%s], want %q [%s]", d, c.Name, c.Unit, v.names[i], v.units[i])
		}
	}
	if why := wrongTime(s, v); why != "" {
		t.Errorf("%s: %s", d, why)
	}
	for i := range v.values {
		for j, want := range v.values[i] {
			if got := s.Values[i][j]; got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
				t.Errorf("%s: %s row %d: %v, want %v", d, v.names[i], j, got, want)
				return
			}
		}
	}
}

// wrongTime compares steps always, and the instant where the log has a date.
func wrongTime(s schema.Series, v truth) string {
	for i, want := range v.t {
		if got := s.T[i] - s.T[0]; math.Abs(got-want) > 1e-6 {
			return fmt.Sprintf("row %d at %v s after the first, want %v (clock %q)", i, got, want, s.Clock.Unit)
		}
	}
	if !s.Clock.Start.IsZero() {
		if at := s.Clock.Start.Add(time.Duration(s.T[0] * 1e9)); at.Sub(began).Abs() > time.Microsecond {
			return fmt.Sprintf("begins at %v, want %v", at, began)
		}
	}
	return ""
}
