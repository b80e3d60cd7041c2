package mdf4_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/mdf4"
	"dynolake/pipeline/read/readtest"
)

func TestRefused(t *testing.T) {
	old := make([]byte, 64)
	copy(old, "MDF     3.30    byhand  ")
	le.PutUint16(old[28:], 330)
	noClock := cg("g", 1, 1, 1, 0, cn("x", "", shape{bits: 8}, nil, nil))
	angle := cg("g", 1, 1, 9, 0, cn("phi", "deg", shape{kind: 2, sync: 2, typ: 4, bits: 64}, nil, nil), cn("x", "", shape{offset: 8, bits: 8}, nil, nil))
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"version 3":      {old, "an MDF 3.30 file: versions 4.00 to 4.20 are read"},
		"no data group":  {image(410, 0, hd(nil)), "HD block at offset 64: it links to no data group"},
		"no clock":       {image(410, 0, hd(dg(0, block("DT", []byte{1}), noClock))), "a time channel is missing: none of the 1 channel groups has a time master"},
		"angle":          {image(410, 0, hd(dg(0, block("DT", append(f64(1), 1)), angle))), "a time channel is missing"},
		"no rows":        {image(410, 0, hd(dg(0, nil, plainGroup(0)))), "no rows: the 1 channel groups with a clock are empty"},
		"header gone":    {image(410, 0, hd(nil))[:64], "HD block at offset 64: the link leads out of the file of 64 bytes"},
		"a link too far": {patch(image(410, 0, hd(dg(0, nil, plainGroup(0)))), 64+24, 1<<40), "DG block at offset 1099511627776: the link leads out of the file"},
		"a length":       {patch(image(410, 0, hd(dg(0, nil, plainGroup(0)))), 64+8, 1<<60), "HD block at offset 64: its 1152921504606846976 bytes reach"},
		"links":          {patch(image(410, 0, hd(dg(0, nil, plainGroup(0)))), 64+16, 1<<61), "HD block at offset 64: 2305843009213693952 links do not fit"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := read.Collect(context.Background(), mdf4.Reader{}, readtest.Bytes("log.csv", c.data))
			if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "log.csv: ") {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

func patch(b []byte, at int, v uint64) []byte {
	le.PutUint64(b[at:], v)
	return b
}

// A file of some hundred kilobytes that unpacks to half a gigabyte is read up to its bound.
func TestBomb(t *testing.T) {
	var blocks []*node
	var sizes []int
	for range 25 {
		blocks, sizes = append(blocks, pack(t, "DT", 0, make([]byte, 20<<20))), append(sizes, 20<<20)
	}
	g := cg("g", 1, 25*20<<10, 1024, 0, cn("t", "s", shape{kind: 2, sync: 1, typ: 4, bits: 64}, nil, nil), cn("x", "", shape{offset: 8, bits: 8}, nil, nil))
	logs, err := read.Collect(context.Background(), mdf4.Reader{}, readtest.Bytes("log.csv", image(410, 0, hd(dg(0, head(0, list(sizes, blocks...)), g)))))
	if err != nil || len(logs[0].Series[0].T) > 400<<10 || !strings.Contains(logs[0].Findings[0].Text, "unpack to more than") {
		t.Errorf("%v, %v", err, logs)
	}
}

// Links in a circle end, with what was read before them.
func TestCircles(t *testing.T) {
	recs, at, _, _ := plainRows(50)
	for name, bend := range map[string]func(d, g *node){
		"DG": func(d, _ *node) { d.links[0] = d }, "CG": func(_, g *node) { g.links[0] = g }, "CN": func(_, g *node) { g.links[1].links[0].links[0] = g.links[1] },
		"DL": func(d, _ *node) { d.links[2].links[0] = d.links[2] }, "composition": func(_, g *node) { g.links[1].links[0].links[1] = g.links[1] },
	} {
		t.Run(name, func(t *testing.T) {
			blocks, sizes := pieces(t, recs, -1, 400)
			g := plainGroup(50)
			d := dg(0, list(sizes, blocks...), g)
			bend(d, g)
			data := image(410, 0, hd(d))
			if err := readtest.Check(context.Background(), mdf4.Reader{}, data); err != nil {
				t.Error(err)
			}
			logs, err := read.Collect(context.Background(), mdf4.Reader{}, readtest.Bytes("log.csv", data))
			if err != nil || len(logs[0].Findings) == 0 {
				t.Fatalf("%v %v", logs, err)
			}
			equal(t, "t", logs[0].Series[0].T, at)
		})
	}
}

// A packed block that is damaged costs its rows alone, and says so; the checksum tells what unpacks to the right length.
func TestDamagedBlockCostsItsRows(t *testing.T) {
	const rows, per = 1000, 100
	recs, at, x, _ := plainRows(rows)
	blocks, sizes := pieces(t, recs, 17, 17*per)
	sum := blocks[3].data[len(blocks[3].data)-4:]
	sum[0] ^= 1
	l, codes := parse(t, image(410, 0, hd(dg(0, head(17, list(sizes, blocks...)), plainGroup(rows)))))
	s := l.Series[0]
	equal(t, "t", s.T, append(append([]float64{}, at[:3*per]...), at[4*per:]...))
	equal(t, "x", s.Values[0], append(append([]float64{}, x[:3*per]...), x[4*per:]...))
	if codes["rows_lost"] != 1 || len(codes) != 1 || !strings.Contains(l.Findings[0].Text, "100 rows of damaged blocks are lost: the first because of DZ block at offset") || !strings.Contains(l.Findings[0].Text, "checksum") {
		t.Errorf("%v", l.Findings)
	}
}

// Whatever bit of a packed block, of a list or of a data block's head is changed: an error, a finding, or the same values.
func TestFlippedBitsTell(t *testing.T) {
	recs, _, _, _ := plainRows(30)
	for name, data := range map[string]*node{"packed": split(t, recs, 17, 17*10), "one": pack(t, "DT", 17, recs), "plain": split(t, recs, -1, 17*10), "columns": nil} {
		t.Run(name, func(t *testing.T) {
			file, step := columnFile(t, 8, false), 61
			const rows = 30
			if data != nil {
				step = 1
				file = image(410, 0, hd(dg(0, data, plainGroup(rows))))
			}
			for at := 64; at+24 <= len(file); at += 8 {
				if id := string(file[at : at+4]); id == "##DZ" || id == "##DL" || id == "##HL" || id == "##LD" || id == "##DT" || id == "##DG" {
					size := int(le.Uint64(file[at+8:]))
					if id == "##DT" {
						size = 24 // What is behind it is values.
					}
					readtest.Flip(t, mdf4.Reader{}, file, at, min(len(file), at+min(size, 72)), step)
					readtest.Flip(t, mdf4.Reader{}, file, at+min(size, 72), min(len(file), at+size), 41*step)
				}
			}
		})
	}
}

// A file that the recorder did not close is read as far as it is whole.
func TestUnfinished(t *testing.T) {
	recs, at, x, _ := plainRows(100)
	d := dg(0, nil, plainGroup(0))
	file := image(410, 1|4, hd(d))
	file = append(file, bits("##DT", uint32(0), uint64(24), uint64(0), recs[:17*80+5])...)
	le.PutUint64(file[d.at+24+16:], uint64(len(file)-24-17*80-5))
	l, codes := parse(t, file)
	equal(t, "t", l.Series[0].T, at[:80])
	equal(t, "x", l.Series[0].Values[0], x[:80])
	if codes["unfinished_file"] != 1 || len(codes) != 1 {
		t.Errorf("%v", l.Findings)
	}
}

// A finished file that is cut gives its whole rows.
func TestCut(t *testing.T) {
	recs, at, _, _ := plainRows(100)
	d := dg(0, nil, plainGroup(100))
	file := image(410, 0, hd(d))
	le.PutUint64(file[d.at+24+16:], uint64(len(file)))
	file = append(file, bits("##DT", uint32(0), uint64(24+len(recs)), uint64(0), recs)...)
	l, codes := parse(t, file[:len(file)-17*10-3])
	equal(t, "t", l.Series[0].T, at[:89])
	if codes["data_cut"] != 1 || !strings.Contains(l.Findings[0].Text, "173 beyond the end of the file") {
		t.Errorf("%v", l.Findings)
	}
}

// Counter, record length and data length: the two that agree win, and where another record length would explain all nothing is read.
func TestCountsThatContradict(t *testing.T) {
	recs, at, _, _ := plainRows(100)
	l, codes := parse(t, image(410, 0, hd(dg(0, block("DT", recs), plainGroup(103)))))
	if equal(t, "t", l.Series[0].T, at); codes["cycles_disagree"] != 1 {
		t.Errorf("%v", l.Findings)
	}
	g := plainGroup(100)
	le.PutUint32(g.data[24:], 18)
	_, err := read.Collect(context.Background(), mdf4.Reader{}, readtest.Bytes("log.csv", image(410, 0, hd(dg(0, block("DT", recs), g)))))
	if err == nil || !strings.Contains(err.Error(), "records of 17 bytes would agree") {
		t.Errorf("%v", err)
	}
}

// Findings of what is left out: a group without a clock beside one with, an empty group, a group that has only its clock.
func TestGroupsLeftOut(t *testing.T) {
	recs, _, _, _ := plainRows(10)
	noClock := cg("lost", 1, 1, 1, 0, cn("x", "", shape{bits: 8}, nil, nil))
	bare := cg("bare", 1, 1, 8, 0, clock())
	l, codes := parse(t, image(410, 0, hd(chained([]*node{dg(0, block("DT", []byte{1}), noClock), dg(0, block("DT", recs), plainGroup(10)), dg(0, nil, plainGroup(0)), dg(0, block("DT", f64(1)), bare)}))))
	if len(l.Series) != 1 || codes["no_clock"] != 1 || codes["empty_groups"] != 1 || codes["no_channels"] != 1 || len(codes) != 3 {
		t.Errorf("%v", l.Findings)
	}
}

// A clock that claims seconds and counts nanoseconds is corrected where a Unix clock proves it, and doubted where none does.
func TestClockThatCountsNanoseconds(t *testing.T) {
	const base = 1686082945335777300
	for _, proof := range []bool{true, false} {
		var b []byte
		for i := range 100 {
			ns := int64(i) * 20_000_000
			unix := base + ns + int64(i%7)*1000
			if !proof {
				unix = base + 3*ns
			}
			b = append(append(b, f64(float64(ns))...), bits(unix)...)
		}
		g := cg("g", 1, 100, 16, 0, clock(), cn("abs", "ns", shape{typ: 2, offset: 8, bits: 64}, nil, nil))
		l, codes := parse(t, image(410, 0, hd(dg(0, block("DT", b), g))))
		want := 99 * 20e6
		if proof {
			want = 99 * 0.02
		}
		if got := l.Series[0].T[99]; math.Abs(got-want) > 1e-9*want || proof != (codes["clock_unit_wrong"] == 1) || proof == (codes["clock_implausible"] == 1) || codes["beyond_double"] != 1 {
			t.Errorf("proof %v: ends at %v, %v", proof, got, l.Findings)
		}
	}
}

// The header's time and comment.
func TestHeader(t *testing.T) {
	recs, _, _, _ := plainRows(3)
	h := hd(dg(0, block("DT", recs), plainGroup(3)))
	h.links[5] = md(`<HDcomment><TX>cold &lt;start&gt;</TX><time_source>x</time_source><common_properties><e name="author">kx</e></common_properties></HDcomment>`)
	le.PutUint16(h.data[8:], 120)
	h.data[12] = 2
	l, _ := parse(t, image(410, 0, h))
	c := l.Series[0].Clock
	if fmt.Sprint(l.Notes) != "[[comment cold <start>] [author kx]]" || !c.Zoned || c.Start.Format("2006-01-02T15:04:05-07:00") != "2026-03-14T11:26:53+02:00" {
		t.Errorf("%v %v", l.Notes, c)
	}
	h.data[12] = 1
	l, _ = parse(t, image(410, 0, h))
	if c := l.Series[0].Clock; c.Zoned || c.Start.Format("15:04:05") != "09:26:53" {
		t.Errorf("%v", c)
	}
}

// A cell of 32-bit floats with a linear conversion is reckoned in 64 bits; integers beyond 2^31 keep their worth.
func TestPrecision(t *testing.T) {
	b := append(append(f64(0), bits(float32(0.1))...), bits(uint32(3_000_000_001))...)
	g := cg("g", 1, 1, 16, 0, clock(), cn("x", "", shape{typ: 4, offset: 8, bits: 32}, cc(1, nil, 0, 6.894757293168361), nil), cn("n", "", shape{offset: 12, bits: 32}, nil, nil))
	l, _ := parse(t, image(410, 0, hd(dg(0, block("DT", b), g))))
	if v := l.Series[0].Values; v[0][0] != float64(float32(0.1))*6.894757293168361 || v[1][0] != 3_000_000_001 {
		t.Errorf("%v", v)
	}
}

func TestSuite(t *testing.T) {
	recs, _, _, _ := plainRows(12)
	state := cn("y", "", shape{offset: 16, bits: 8}, cc(7, []*node{tx("on"), nil}, 1), nil)
	readtest.Suite(t, mdf4.Reader{}, image(410, 0, hd(dg(0, split(t, recs, 17, 17*5), cg("g", 1, 12, 17, 0, clock(), cn("x", "kPa", shape{typ: 4, offset: 8, bits: 64}, nil, nil), state)))))
}

func FuzzRead(f *testing.F) {
	recs, _, _, _ := plainRows(40)
	f.Add(image(410, 0, hd(dg(0, split(f, recs, 17, 17*15), plainGroup(40)))))
	f.Add(image(400, 0, hd(dg(0, equalList(recs, 100), plainGroup(40)))))
	f.Add(columnFile(f, 8, true))
	f.Add(unsortedFile(1, 20, 0, func(b []byte) *node { return block("DT", b) }))
	f.Add(unsortedFile(2, 20, 64|1|4, func(b []byte) *node { return split(f, b, 0, 100) }))
	f.Fuzz(func(t *testing.T, data []byte) {
		readtest.Sound(t, mdf4.Reader{}, data)
	})
}
