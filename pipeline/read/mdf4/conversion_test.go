package mdf4_test

import (
	"math"
	"strings"
	"testing"
)

func TestConversions(t *testing.T) {
	nan := math.NaN()
	double := cc(1, nil, 0, 2)
	for name, c := range map[string]struct {
		typ, bits int
		conv      *node
		raw       []byte
		want      []float64
		texts     []string
	}{
		"identity":             {0, 8, cc(0, nil), []byte{0, 200}, []float64{0, 200}, nil},
		"linear":               {2, 8, cc(1, nil, -40, 0.5), []byte{0, 0x80}, []float64{-40, -104}, nil},
		"rational":             {0, 8, cc(2, nil, 1, 2, 3, 0, 1, 1), []byte{0, 1, 255}, []float64{3, 3, 255 + 1 + 2./256}, nil},
		"divided by zero":      {0, 8, cc(2, nil, 0, 0, 60000, 0, 1, 0), []byte{0, 100}, []float64{nan, 600}, nil},
		"formula":              {0, 8, cc(3, []*node{tx("2*X^2 - 3*x1 + sqrt(X)/2")}), []byte{4, 9}, []float64{21, 136.5}, nil},
		"formula of functions": {0, 8, cc(3, []*node{tx("POW(X,2)+ABS(-X)+exp(0)+2.5e-1*4 + floor(2.7)")}), []byte{3}, []float64{16}, nil},
		"formula of a minus":   {0, 8, cc(3, []*node{tx("-X^2+(X>2 ? 1 : 5)")}), []byte{3, 1}, []float64{-8, 4}, nil},
		"formula undefined":    {0, 8, cc(3, []*node{tx("1/(X-2)")}), []byte{2, 3}, []float64{nan, 1}, nil},
		"interpolated":         {0, 8, cc(4, nil, 10, 100, 20, 300, 30, 0), []byte{0, 10, 15, 20, 25, 99}, []float64{100, 100, 200, 300, 150, 0}, nil},
		"nearest":              {0, 8, cc(5, nil, 10, 100, 20, 300), []byte{0, 14, 15, 16, 99}, []float64{100, 100, 100, 300, 300}, nil},
		"ranges of integers":   {0, 8, cc(6, nil, 0, 9, 1, 10, 19, 2, -1), []byte{0, 9, 10, 19, 20}, []float64{1, 1, 2, 2, -1}, nil},
		"no default":           {0, 8, cc(6, nil, 0, 9, 1), []byte{9, 10}, []float64{1, nan}, nil},
		"ranges that overlap":  {0, 8, cc(6, nil, 0, 50, 1, 10, 19, 2, 7), []byte{12, 51}, []float64{1, 7}, nil},
		"ranges of floats":     {4, 32, cc(6, nil, 0, 1, 1, 1, 2, 2, 5, 5, 3, -1), bits(float32(0.5), float32(1), float32(2), float32(5)), []float64{1, 2, -1, 3}, nil},
		"value to text":        {0, 8, cc(7, []*node{tx("off"), tx("on"), nil, tx("else")}, 0, 1, 2), []byte{0, 1, 2, 3}, []float64{nan, nan, nan, nan}, []string{"off", "on", "", "else"}},
		"partial":              {0, 8, cc(7, []*node{tx("error"), double}, 254), []byte{254, 3}, []float64{nan, 6}, []string{"error", ""}},
		"entry is a number":    {0, 8, cc(7, []*node{double, tx("else")}, 5), []byte{5, 6}, []float64{10, nan}, []string{"", "else"}},
		"ranges to text":       {0, 8, cc(8, []*node{tx("low"), double, tx("?")}, 0, 9, 10, 19), []byte{9, 10, 20}, []float64{nan, 20, nan}, []string{"low", "", "?"}},
		"no default text":      {0, 8, cc(7, []*node{tx("off")}, 0), []byte{0, 4}, []float64{nan, nan}, []string{"off", ""}},
		"text to value":        {7, 16, cc(9, []*node{tx("N"), tx("D1")}, 0, 1, 99), []byte("N\x00D1xx"), []float64{0, 1, 99}, []string{"", "", ""}},
		"text to text":         {7, 16, cc(10, []*node{tx("N"), tx("neutral"), tx("D1"), nil, tx("other")}), []byte("N\x00D1xx"), []float64{nan, nan, nan}, []string{"neutral", "D1", "other"}},
	} {
		t.Run(name, func(t *testing.T) {
			var recs [][]byte
			for n := c.bits / 8; len(c.raw) > 0; c.raw = c.raw[n:] {
				recs = append(recs, c.raw[:n])
			}
			l, codes := parse(t, one(shape{typ: c.typ, bits: c.bits}, c.conv, c.bits/8, recs...))
			s := l.Series[0]
			texts := make([]string, len(s.T))
			for _, x := range s.Texts {
				texts[x.Row] = x.Text
			}
			for i, want := range c.want {
				if got := s.Values[0][i]; math.Abs(got-want) > 1e-12*math.Abs(want) || math.IsNaN(got) != math.IsNaN(want) || c.texts != nil && texts[i] != c.texts[i] || c.texts == nil && texts[i] != "" {
					t.Errorf("row %d: %v %q, want %v %q", i, got, texts[i], want, c.texts)
				}
			}
			delete(codes, "infinite_value")
			delete(codes, "conversion_has_none")
			if len(codes) > 0 {
				t.Errorf("findings %v", l.Findings)
			}
		})
	}
}

// A table of bit fields: masked bits where they stand, a field's name before its text, fields without a text left out.
func TestBitFields(t *testing.T) {
	mask := func(m uint64) float64 { return math.Float64frombits(m) }
	lamp := cc(7, []*node{tx("on")}, 1)
	lamp.links[0] = tx("lamp")
	mode := cc(7, []*node{tx("eco"), tx("sport")}, 0x10, 0x20)
	conv := cc(11, []*node{lamp, mode}, mask(1), mask(0x30))
	l, codes := parse(t, one(shape{bits: 8}, conv, 1, []byte{0x11}, []byte{0x20}, []byte{0xC1}, []byte{0x40}))
	var texts [4]string
	for _, x := range l.Series[0].Texts {
		texts[x.Row] = x.Text
	}
	if want := [4]string{"lamp = on|eco", "sport", "lamp = on", ""}; texts != want || codes["conversion_has_none"] != 1 {
		t.Errorf("%q, %v; want %q and one number that means nothing", texts, l.Findings, want)
	}
}

// What is no channel is named: a marker with its time, an attached file; a list of them in a circle ends.
func TestEventsAndAttachments(t *testing.T) {
	recs, _, _, _ := plainRows(3)
	h := hd(dg(0, block("DT", recs), plainGroup(3)))
	ev := block("EV", bits(6, 1, 0, 4, 0, 0, 0, 0, uint32(0), uint16(0), uint16(0), int64(12300), 0.001), nil, nil, nil, tx("knock"), md("<EVcomment><TX>heard</TX></EVcomment>"))
	h.links[4] = ev
	h.links[3] = block("AT", bits(uint16(1), uint16(0), 0, 0, 0, 0, make([]byte, 16), uint64(0), uint64(0)), nil, tx("map.txt"), nil, nil)
	l, codes := parse(t, image(410, 0, h))
	text := ""
	for _, f := range l.Findings {
		text += f.Text + "\n"
	}
	frames := plainGroup(3)
	le.PutUint16(frames.data[16:], 1<<1)
	if _, codes := parse(t, image(410, 0, hd(dg(0, block("DT", recs), frames)))); codes["bus_frames"] != 1 {
		t.Errorf("%v, want the frames named", codes)
	}
	if !strings.Contains(text, `marker at 12.3 s "knock" "heard"`) || !strings.Contains(text, `"map.txt" (inside)`) || len(codes) != 2 {
		t.Errorf("%s", text)
	}
	ev.links[0] = ev
	if l, _ = parse(t, image(410, 0, h)); !strings.Contains(l.Findings[0].Text, "circle") {
		t.Errorf("%v, want the circle named", l.Findings)
	}
}

// What cannot be understood is no value: the channel is set aside and said.
func TestConversionsNotUnderstood(t *testing.T) {
	circle := cc(7, []*node{tx("a"), nil}, 1)
	circle.links[5] = circle
	for name, conv := range map[string]*node{
		"unknown kind": cc(77, nil), "bit fields without texts": cc(11, nil, math.Float64frombits(1)), "too few values": cc(1, nil, 1), "no formula": cc(3, []*node{tx("")}), "a formula of another": cc(3, []*node{tx("system(X)")}),
		"bit operators": cc(3, []*node{tx("X & 15")}), "a circle": circle, "of texts": cc(9, []*node{tx("a")}, 1), "not a number": cc(1, nil, math.NaN(), 1), "no conversion": tx("x"),
		"endless brackets": cc(3, []*node{tx(strings.Repeat("(", 1900) + "X")}),
	} {
		t.Run(name, func(t *testing.T) {
			b := append(f64(0), 1, 2)
			l, codes := parse(t, image(410, 0, hd(dg(0, block("DT", b), cg("g", 1, 1, 10, 0, clock(), cn("x", "", shape{offset: 8, bits: 8}, conv, nil), cn("y", "", shape{offset: 9, bits: 8}, nil, nil))))))
			if s := l.Series[0]; len(s.Channels) != 1 || s.Channels[0].Name != "y" || codes["channel_set_aside"] != 1 {
				t.Errorf("%+v, %v", s.Channels, l.Findings)
			}
		})
	}
}

func TestUnits(t *testing.T) {
	conv := cc(1, nil, 0, 2)
	conv.links[1] = md(`<CCunit xmlns="http://www.asam.net/mdf/v4"><TX>kPa</TX></CCunit>`)
	b := append(f64(0), 1)
	x := cn("x", "", shape{offset: 8, bits: 8}, conv, nil)
	x.links[6] = nil
	y := cn("y", "", shape{offset: 8, bits: 8}, conv, nil)
	y.links[6] = md(`<CNunit><TX>µbar &amp; more</TX></CNunit>`)
	y.links[7] = md(`<CNcomment><TX>behind the filter</TX><names><name>z</name></names></CNcomment>`)
	l, _ := parse(t, image(410, 0, hd(dg(0, block("DT", b), cg("g", 1, 1, 9, 0, clock(), x, y)))))
	c := l.Series[0].Channels
	if c[0].Unit != "kPa" || c[1].Unit != "µbar & more" || c[1].Comment != "behind the filter" {
		t.Errorf("%+v", c)
	}
}
