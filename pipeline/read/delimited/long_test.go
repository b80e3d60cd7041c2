package delimited_test

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"dynolake/pipeline/read/delimited"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
)

// grouped is a sink that keeps times, values and texts by the group's name.
type grouped struct {
	drain
	names    []string
	rows     map[string][]string
	findings []string
}

func (g *grouped) Group(x schema.Group) (int, error) {
	g.names = append(g.names, x.Name)
	return len(g.names) - 1, nil
}

func (g *grouped) Rows(at int, b schema.Batch) error {
	for i, t := range b.T {
		text := ""
		if k := slices.IndexFunc(b.Texts, func(x schema.Text) bool { return x.Row == i }); k >= 0 {
			text = b.Texts[k].Text
		}
		g.rows[g.names[at]] = append(g.rows[g.names[at]], fmt.Sprintf("%v %v %s", t, b.Values[0][i], text))
	}
	return g.drain.Rows(at, b)
}

func (g *grouped) Find(f schema.Finding) { g.findings = append(g.findings, f.Code) }

// A row a value keeps each value with its name and time, whether its channels come in turn or in any order, and whatever stands
// in between: quotes or none, names with delimiters and quotes in them, texts, nothing, blanks and cells beyond the header.
func TestLongKeepsEachValue(t *testing.T) {
	names := []string{"Speed", "Boost, absolute", `Valve "A"`, "Speed, 2", "Speed", "Lambda"}
	units := []string{"rpm", "kPa", "%", "rpm", "km/h", ""}
	called := []string{"Speed", "Boost, absolute", `Valve "A"`, "Speed, 2", "Speed [km/h]", "Lambda"}
	for _, odd := range []int{0, 3, 50} {
		t.Run(strconv.Itoa(odd), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(9, uint64(odd)))
			var b bytes.Buffer
			b.WriteString("Time [s],Name,Value,Unit\n")
			want, long := map[string][]string{}, 0
			quote := func(s string) string {
				if strings.ContainsAny(s, `,"`) || rng.IntN(2) == 0 {
					return `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
				}
				return s
			}
			for r := range 6000 {
				at := r % len(names)
				if rng.IntN(100) < odd {
					at = rng.IntN(len(names))
				}
				when := float64(r) / 100
				cell := strconv.FormatFloat(rng.NormFloat64()*1000, 'f', rng.IntN(7), 64)
				value, err := strconv.ParseFloat(cell, 64)
				if err != nil {
					t.Fatal(err)
				}
				text, behind := "", ""
				switch rng.IntN(100 - odd) {
				case 0:
					cell, value, text = "ON", math.NaN(), "ON"
				case 1:
					cell, value = "", math.NaN()
				case 2:
					cell = " " + cell
				case 3:
					behind = ",7"
					long++
				}
				fmt.Fprintf(&b, "%s,%s,%s,%s%s\n", quote(strconv.FormatFloat(when, 'f', 2, 64)), quote(names[at]), quote(cell), quote(units[at]), behind)
				want[called[at]] = append(want[called[at]], fmt.Sprintf("%v %v %s", when, value, text))
			}
			g := &grouped{rows: map[string][]string{}}
			if err := (delimited.Reader{}).Read(t.Context(), readtest.Bytes("log.csv", b.Bytes()), g); err != nil {
				t.Fatal(err)
			}
			for name, rows := range want {
				if !slices.Equal(g.rows[name], rows) {
					t.Errorf("%s: %d rows, want %d, and they differ; groups %q", name, len(g.rows[name]), len(rows), g.names)
				}
			}
			if long > 0 != slices.Contains(g.findings, "long_row") {
				t.Errorf("%d rows with a cell too many, findings %q", long, g.findings)
			}
		})
	}
}
