package plot

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"dynolake/queries/packs"
	"dynolake/queries/result"
	"dynolake/schema"
)

// standInless takes the colour out of a drawing.
func standInless(s string) string { return regexp.MustCompile(`var\(--s\d\)`).ReplaceAllString(s, "") }

// pack declares a picture of one's own.
func pack(t *testing.T, plot string) *packs.Pack {
	t.Helper()
	dir := t.TempDir()
	text := "-- title: Test & <b>try</b>\n-- plot: " + plot + "\nSELECT 1 AS one"
	if err := os.MkdirAll(filepath.Join(dir, "mine"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "mine", "a.sql"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	set, err := packs.Load(dir)
	if err != nil || len(set.Problems) > 0 {
		t.Fatal(err, set.Problems)
	}
	p, err := set.Pack("mine/a")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func columns() []result.Column {
	return []result.Column{{Name: "platform"}, {Name: "vehicle"}, {Name: "calibration"}, {Name: "wheel_power_kw", Kind: result.Float64},
		{Name: "exhaust_gauge_kpa", Kind: result.Float64}, {Name: "lo", Kind: result.Float64}, {Name: "hi", Kind: result.Float64}, {Name: "from_gear", Kind: result.Int}}
}

// rows are straight lines: a series of 20 bins for each vehicle and calibration, calibration k higher by k kPa.
func rows(vehicles, calibrations int) [][]any {
	var out [][]any
	for v := range vehicles {
		for k := range calibrations {
			for i := range 20 {
				kw := 52.5 + 5*float64(i)
				y := 2 + 0.1*kw + float64(k)
				out = append(out, []any{"p", fmt.Sprintf("car %d", v), fmt.Sprintf("step %d", k), kw, y, y - 0.5, y + 0.5, int64(k + 1)})
			}
		}
	}
	return out
}

const exhaustPlot = "line x=wheel_power_kw y=exhaust_gauge_kpa by=platform,vehicle,calibration band=lo:hi limit=exhaust_gauge_kpa reference=8"

func limits() []schema.Limit {
	return []schema.Limit{{Column: "exhaust_gauge_kpa", Max: 15, Min: math.NaN()}, {Column: "exhaust_gauge_kpa", Max: 12, Min: math.NaN(), Vehicle: "car 1"}}
}

// drawn is what a picture holds.
type drawn struct {
	texts []string
	paths map[string][]string // By what they are stroked or filled with.
	title string
	words string
	role  string
}

func parse(t *testing.T, svg string) drawn {
	t.Helper()
	d := drawn{paths: map[string][]string{}}
	dec := xml.NewDecoder(strings.NewReader(svg))
	in := ""
	colour := regexp.MustCompile(`(fill|stroke):([^;]+)`)
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return d
		}
		if err != nil {
			t.Fatalf("the picture is no XML: %v", err)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			in = e.Name.Local
			style, path := "", ""
			for _, a := range e.Attr {
				switch a.Name.Local {
				case "style":
					style = a.Value
				case "d":
					path = a.Value
				case "role":
					d.role = a.Value
				}
			}
			if in == "path" {
				for _, m := range colour.FindAllStringSubmatch(style, -1) {
					if m[2] != "none" {
						key := m[1] + " " + m[2]
						if strings.Contains(style, "opacity") {
							key += " glazed"
						}
						d.paths[key] = append(d.paths[key], path)
					}
				}
			}
		case xml.EndElement:
			in = ""
		case xml.CharData:
			switch in {
			case "text":
				d.texts = append(d.texts, string(e))
			case "title":
				d.title = string(e)
			case "desc":
				d.words = string(e)
			}
		}
	}
}

func (d drawn) has(t *testing.T, want ...string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains("\n"+strings.Join(d.texts, "\n")+"\n", "\n"+w+"\n") {
			t.Errorf("the picture does not say %q: %q", w, d.texts)
		}
	}
}

func one(t *testing.T, plot string, values [][]any, o Options) Chart {
	t.Helper()
	charts, err := Charts(pack(t, plot), columns(), values, o)
	if err != nil || len(charts) != 1 {
		t.Fatal(charts, err)
	}
	return charts[0]
}

func panel(t *testing.T, c Chart, i int) drawn {
	t.Helper()
	svg, err := c.Panels[i].SVG(c, "id")
	if err != nil {
		t.Fatal(err)
	}
	return parse(t, svg)
}

func TestPanel(t *testing.T) {
	c := one(t, exhaustPlot, rows(2, 3), Options{Limits: limits()})
	if len(c.Panels) != 2 {
		t.Fatalf("got %d panels, want one a vehicle", len(c.Panels))
	}
	d := panel(t, c, 1)
	d.has(t, "car 1", "p", "Exhaust back pressure, gauge (kPa)", "Wheel power (kW)", "step 0", "step 1", "step 2", "limit 12 kPa", "8 kPa", "60", "100", "10")
	for look := range 3 {
		if n := len(d.paths[fmt.Sprintf("fill var(--s%d) glazed", look)]); n != 1 {
			t.Errorf("look %d has %d bands, want one", look, n)
		}
		longest := 0
		for _, p := range d.paths[fmt.Sprintf("stroke var(--s%d)", look)] {
			longest = max(longest, strings.Count(p, "L"))
		}
		if longest != 19 {
			t.Errorf("look %d has no curve of 20 points, the longest has %d steps", look, longest)
		}
	}
	if len(d.paths["stroke var(--s3)"]) > 0 {
		t.Error("there is a fourth series")
	}
	if n := len(d.paths["stroke var(--bound)"]); n < 10 {
		t.Errorf("the limit has %d strokes, want its line and teeth", n)
	}
	if d.role != "img" || d.title != "Exhaust back pressure, gauge by wheel power, car 1" {
		t.Errorf("role %q, title %q", d.role, d.title)
	}
	// 2 + 0.1 kW + k passes 12 at the first bin above (10 - k) / 0.1 kW.
	for _, want := range []string{"step 0: from 52.50 kW to 147.50 kW; lowest 7.25 kPa at 52.50 kW, highest 16.75 kPa at 147.50 kW", "Limit 12 kPa; step 0 passes it at 102.50 kW; step 1 passes it at 92.50 kW"} {
		if !strings.Contains(d.words, want) {
			t.Errorf("the words lack %q: %s", want, d.words)
		}
	}
}

// 12 kPa are 1.74 psi and 52.5 kW are 70.4 hp by NIST SP 811.
func TestPanelUS(t *testing.T) {
	c := one(t, exhaustPlot, rows(2, 1), Options{Limits: limits(), Units: result.US})
	d := panel(t, c, 0)
	d.has(t, "Exhaust back pressure, gauge (psi)", "Wheel power (hp)")
	if p := c.Panels[0]; math.Abs(p.Series[0].X[0]-70.4036) > 1e-3 || math.Abs(p.Marks[0].Y-12/6.894757) > 1e-4 && math.Abs(p.Marks[0].Y-15/6.894757) > 1e-4 {
		t.Errorf("got x %v and limit %v", p.Series[0].X[0], p.Marks[0].Y)
	}
}

// The calibration that was first run last is the heavy line, whatever its name.
func TestLatestIsHeaviest(t *testing.T) {
	c := one(t, exhaustPlot, rows(1, 3), Options{Order: map[Tested]int{{"car 0", "step 0"}: 9, {"car 0", "step 1"}: 1, {"car 0", "step 2"}: 2}})
	s := c.Panels[0].Series
	if s[2].Name != "step 0" || s[2].Style != 0 || s[0].Name != "step 1" || s[0].Style != 2 {
		t.Errorf("got %+v", s)
	}
	if k := c.Key(); len(k) != 3 || k[0].Name != "step 0" || !strings.Contains(k[0].Swatch, "var(--s0)") {
		t.Errorf("got the key %+v", k)
	}
}

func TestSharing(t *testing.T) {
	t.Run("many calibrations", func(t *testing.T) {
		c := one(t, exhaustPlot, rows(1, 9), Options{})
		if n := len(c.Panels[0].Series); n != maxSeries || len(c.LeftOut) != 3 || c.LeftOut[0] != "p, car 0, step 1" || c.Panels[0].Series[0].Name != "step 0" {
			t.Errorf("%d series, left out %q", n, c.LeftOut)
		}
	})
	t.Run("one calibration each", func(t *testing.T) {
		c := one(t, exhaustPlot, rows(8, 1), Options{})
		if len(c.Panels) != 2 || len(c.Panels[0].Series) != 6 || len(c.Panels[1].Series) != 2 || c.Panels[1].Series[1].Name != "car 7, step 0" {
			t.Errorf("got %+v", c.Panels)
		}
	})
	t.Run("many gears", func(t *testing.T) {
		c := one(t, "line x=wheel_power_kw y=exhaust_gauge_kpa by=platform,from_gear", rows(1, 9), Options{})
		if len(c.Panels) != 2 || c.Panels[1].Series[2].Name != "from gear 9" || len(c.LeftOut) > 0 {
			t.Errorf("got %+v", c.Panels)
		}
	})
	t.Run("many vehicles", func(t *testing.T) {
		c := one(t, exhaustPlot, rows(20, 2), Options{})
		if len(c.Panels) != maxPanels || len(c.LeftOut) != 8 {
			t.Errorf("%d panels, left out %q", len(c.Panels), c.LeftOut)
		}
	})
	t.Run("nothing to tell apart by", func(t *testing.T) {
		if c := one(t, "points x=wheel_power_kw y=exhaust_gauge_kpa", rows(1, 2), Options{}); len(c.Panels) != 1 || len(c.Panels[0].Series) != 1 {
			t.Errorf("got %+v", c.Panels)
		}
	})
}

// A limit may stand in the answer itself.
func TestLimitOfTheAnswer(t *testing.T) {
	c := one(t, "line x=wheel_power_kw y=exhaust_gauge_kpa by=vehicle limit=hi", rows(1, 1), Options{})
	if m := c.Panels[0].Marks; len(m) != 1 || m[0].Y != 7.75 || !m[0].Limit {
		t.Errorf("got %+v", m)
	}
}

func TestGapAndLeap(t *testing.T) {
	values := rows(1, 1)
	gappy := append(append([][]any{}, values[:6]...), values[14:]...)
	d := panel(t, one(t, exhaustPlot, gappy, Options{}), 0)
	long := 0
	for _, p := range d.paths["stroke var(--s0)"] {
		if strings.Count(p, "L") == 5 {
			long++
		}
	}
	if long < 2 {
		t.Errorf("a curve runs across the gap: %q", d.paths["stroke var(--s0)"])
	}
	var spool [][]any
	for i := range 40 {
		y := 1 + 0.01*float64(i)
		if i < 2 {
			y = 60
		}
		spool = append(spool, []any{"p", "car", "a", 50 + 5*float64(i), y, nil, nil, int64(1)})
	}
	d = panel(t, one(t, "line x=wheel_power_kw y=exhaust_gauge_kpa by=platform,vehicle,calibration", spool, Options{}), 0)
	d.has(t, "Exhaust back pressure, gauge (kPa); ▲ goes on above", "1.0")
}

func TestWrongPictures(t *testing.T) {
	for plot, want := range map[string]string{"line x=nothing y=lo": `names the column "nothing"`, "line x=wheel_power_kw y=vehicle": `column vehicle holds "car 0", want numbers`} {
		if _, err := Charts(pack(t, plot), columns(), rows(1, 1), Options{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: got %v", plot, err)
		}
	}
}

// put writes a file as it is.
func put(path string, write func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	return errors.Join(write(f), f.Close())
}

func TestSave(t *testing.T) {
	charts, err := Charts(pack(t, exhaustPlot), columns(), rows(4, 2), Options{Limits: limits()})
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for _, name := range []string{"a.svg", "A.PNG"} {
		path := filepath.Join(dir, name)
		for range 2 {
			if err := Save(path, charts, put); err != nil {
				t.Fatal(err)
			}
		}
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		var again bytes.Buffer
		if err := Write(&again, strings.ToLower(filepath.Ext(name)), charts); err != nil || !bytes.Equal(again.Bytes(), text) {
			t.Errorf("%s: two drawings differ (%v)", name, err)
		}
		if name == "A.PNG" {
			im, err := png.Decode(bytes.NewReader(text))
			if err != nil || im.Bounds().Dx() < 1400 {
				t.Errorf("%v, %v", im.Bounds(), err)
			}
			continue
		}
		d := parse(t, string(text))
		d.has(t, "Test & <b>try</b>", "car 3", "limit 12 kPa")
		if strings.Contains(string(text), "var(") || !strings.Contains(d.words, "car 2") {
			t.Error("the file leans on a page's style, or lacks its words")
		}
	}
	if err := Save(filepath.Join(dir, "a.gif"), charts, put); err == nil || !strings.Contains(err.Error(), "want .svg or .png") {
		t.Errorf("got %v", err)
	}
	if err := Save(filepath.Join(dir, "no", "a.svg"), charts, put); err == nil {
		t.Error("a folder that is not there was written into")
	}
}

// Names from sheets are text, whatever is in them, and an answer without rows gives a picture that says so.
func TestHostileAndEmpty(t *testing.T) {
	values := rows(1, 1)
	for _, r := range values {
		r[1], r[2] = "</svg><script>alert(1)</script>", "a\x00\x1b[31m"+strings.Repeat("long ", 30)
	}
	c := one(t, exhaustPlot, values, Options{})
	svg, err := c.Panels[0].SVG(c, "id")
	if err != nil || strings.Contains(svg, "<script") || strings.ContainsAny(svg, "\x00\x1b") {
		t.Errorf("%v %s", err, svg)
	}
	parse(t, svg)
	var b bytes.Buffer
	if err := Write(&b, ".svg", []Chart{one(t, exhaustPlot, nil, Options{})}); err != nil {
		t.Fatal(err)
	}
	parse(t, b.String()).has(t, "Nothing to draw: the answer has no rows.")
}

func TestSteps(t *testing.T) {
	for _, c := range []struct {
		s    span
		want string
	}{{span{0, 10}, "[0 2 4 6 8 10]"}, {span{97, 412}, "[100 200 300 400]"}, {span{-0.31, 0.29}, "[-0.2 0 0.2]"}, {span{5, 5}, "[5]"}, {span{1.1, 1.45}, "[1.1 1.2 1.3 1.4]"}} {
		var got []string
		for _, v := range c.s.steps(5) {
			got = append(got, fmt.Sprintf("%.6g", v))
		}
		if s := "[" + strings.Join(got, " ") + "]"; s != c.want {
			t.Errorf("%v: got %s, want %s", c.s, s, c.want)
		}
	}
	day0 := float64(20089) // 2025-01-01.
	if ticks := dates(span{day0, day0 + 150}); len(ticks) < 3 || ticks[0].Label != "Jan 25" || ticks[1].Label != "Feb 25" {
		t.Errorf("got %v", ticks)
	}
	if ticks := dates(span{day0, day0 + 20}); len(ticks) < 3 || !strings.Contains(ticks[0].Label, "Jan") {
		t.Errorf("got %v", ticks)
	}
}
