package mdf4_test

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	export "dynolake/pipeline/export/mdf4"
	"dynolake/pipeline/read"
	"dynolake/pipeline/read/mdf4"
	"dynolake/schema"
)

// invent makes a random file of every kind of channel.
func invent(seed uint64, plain bool) export.File {
	rng := rand.New(rand.NewPCG(seed, 9))
	f := export.File{Start: time.Date(2024, 3, 1+int(seed%20), 6, 5, 4, 123456789, time.FixedZone("", 7200)), Program: "test", Version: "1.0", Comment: "warm <run> & \"more\"",
		Properties: [][2]string{{"author", "kx"}, {"subject", "pulls"}}, Plain: plain}
	if seed%3 == 0 {
		f.Start, f.Local = f.Start.UTC(), true
	}
	for g := range 1 + rng.IntN(3) {
		rows := 1 + rng.IntN(3000)
		grp := export.Group{Name: fmt.Sprintf("group %d · Δp", g), Comment: "c", Clock: schema.Channel{Name: "Zeit", Comment: "from the start"}}
		t := rng.Float64()
		for range rows {
			grp.T = append(grp.T, t)
			t += 0.001 + rng.Float64()/10
		}
		for c := range 1 + rng.IntN(20) {
			grp.Channels = append(grp.Channels, channel(rng, c, rows))
		}
		f.Groups = append(f.Groups, grp)
	}
	return f
}

func channel(rng *rand.Rand, c, rows int) export.Channel {
	ch := export.Channel{Channel: schema.Channel{Name: fmt.Sprintf("channel %d", c), Unit: []string{"kPa", "°C", "µbar", ""}[c%4], Comment: []string{"", "behind <the> filter"}[c%2]}}
	kind := rng.IntN(4) // Numbers, numbers with gaps, texts with gaps, both.
	if kind != 2 {
		ch.Values = make([]float64, rows)
	}
	ch.Texts = map[int]string{}
	for i := range rows {
		if ch.Values != nil {
			ch.Values[i] = rng.NormFloat64() * math.Pow(10, float64(rng.IntN(20)-10))
			if kind > 0 && rng.IntN(4) == 0 {
				ch.Values[i] = math.NaN()
			}
		}
		if kind == 2 && rng.IntN(3) > 0 || kind == 3 && math.IsNaN(ch.Values[i]) && rng.IntN(2) == 0 {
			ch.Texts[i] = []string{"open", "slip", "gesperrt – ünklar", "停止", "-1"}[rng.IntN(5)]
		}
	}
	return ch
}

func written(t testing.TB, f export.File) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "x.mf4")
	w, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := export.Write(w, f); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func collect(t testing.TB, path string) schema.Log {
	t.Helper()
	src := schema.Source{Name: filepath.Base(path), Size: -1, Open: func() (io.ReadCloser, error) { return os.Open(path) }}
	logs, err := read.Collect(context.Background(), mdf4.Reader{}, src)
	if err != nil || len(logs) != 1 {
		t.Fatalf("%d logs, %v", len(logs), err)
	}
	return logs[0]
}

// What is written is read back to the last bit, with names, units, comments, clocks and texts, and nothing to say.
func TestRoundTrip(t *testing.T) {
	for seed := range uint64(16) {
		f := invent(seed, seed%2 == 0)
		compare(t, seed, f, collect(t, written(t, f)))
	}
}

func compare(t *testing.T, seed uint64, f export.File, l schema.Log) {
	t.Helper()
	if len(l.Series) != len(f.Groups) || len(l.Findings) > 0 {
		t.Fatalf("seed %d: %d groups of %d, %v", seed, len(l.Series), len(f.Groups), l.Findings)
	}
	if want := [][2]string{{"comment", f.Comment}, f.Properties[0], f.Properties[1]}; fmt.Sprint(l.Notes) != fmt.Sprint(want) {
		t.Errorf("seed %d: notes %v", seed, l.Notes)
	}
	for i, g := range f.Groups {
		s := l.Series[i]
		if s.Name != g.Name || s.Clock.Name != g.Clock.Name || s.Clock.Unit != "s" || !s.Clock.Start.Equal(f.Start) || s.Clock.Zoned == f.Local || len(s.T) != len(g.T) || len(s.Channels) != len(g.Channels) {
			t.Fatalf("seed %d: group %+v", seed, s.Group)
		}
		texts := map[[2]int]string{}
		for _, x := range s.Texts {
			texts[[2]int{x.Row, x.Channel}] = x.Text
		}
		for c, ch := range g.Channels {
			if s.Channels[c] != ch.Channel {
				t.Errorf("seed %d: %+v, want %+v", seed, s.Channels[c], ch.Channel)
			}
			for r := range g.T {
				want := math.NaN()
				if ch.Values != nil {
					want = ch.Values[r]
				}
				if got := s.Values[c][r]; s.T[r] != g.T[r] || math.Float64bits(got) != math.Float64bits(want) && !(math.IsNaN(got) && math.IsNaN(want)) || texts[[2]int{r, c}] != ch.Texts[r] {
					t.Fatalf("seed %d: group %d, channel %d, row %d: %v %q at %v, want %v %q at %v", seed, i, c, r, got, texts[[2]int{r, c}], s.T[r], want, ch.Texts[r], g.T[r])
				}
			}
		}
	}
}

// Whatever the numbers and texts, what is written is read back.
func FuzzRoundTrip(f *testing.F) {
	f.Add(uint64(1), true, 1.5, "open", int64(1_700_000_000))
	f.Add(uint64(2), false, math.Inf(1), "a\x00b\xff", int64(0))
	f.Add(uint64(3), false, math.Copysign(0, -1), " ", int64(-5))
	f.Fuzz(func(t *testing.T, seed uint64, plain bool, v float64, text string, start int64) {
		f := invent(seed, plain)
		f.Groups = f.Groups[:1]
		g := &f.Groups[0]
		if seed%3 > 0 && start > 0 && start < 9e9 {
			f.Start = time.Unix(start, 0).UTC()
		}
		text = strings.TrimSpace(strings.ToValidUTF8(strings.ReplaceAll(text, "\x00", ""), "\ufffd"))
		if math.IsInf(v, 0) || strings.HasPrefix(text, "\ufeff") {
			return // The reader takes infinities as missing, and a mark of byte order off.
		}
		c := export.Channel{Channel: schema.Channel{Name: "fuzzed"}, Values: make([]float64, len(g.T)), Texts: map[int]string{}}
		for i := range c.Values {
			c.Values[i] = v
		}
		if text != "" && len(text) < 1<<16 {
			c.Values[0], c.Texts[0] = math.NaN(), text
		}
		g.Channels = append(g.Channels, c)
		compare(t, seed, f, collect(t, written(t, f)))
	})
}

// Data beyond one block goes into several under a list, texts too, and many different texts beside numbers into a channel of their own.
func TestLargeRoundTrip(t *testing.T) {
	const rows = 300_000
	g := export.Group{Name: "large", Clock: schema.Channel{Name: "t"}}
	a := export.Channel{Channel: schema.Channel{Name: "a"}, Values: make([]float64, rows), Texts: map[int]string{}}
	b := export.Channel{Channel: schema.Channel{Name: "b"}, Texts: map[int]string{}}
	for i := range rows {
		g.T = append(g.T, float64(i)/1000)
		a.Values[i] = math.Sin(float64(i))
		if i%100 == 0 {
			a.Values[i], a.Texts[i] = math.NaN(), fmt.Sprint("text ", i)
		}
		b.Texts[i] = fmt.Sprintf("line number %d", i)
	}
	g.Channels = []export.Channel{a, b}
	for _, plain := range []bool{true, false} {
		path := written(t, export.File{Groups: []export.Group{g}, Plain: plain})
		l := collect(t, path)
		s := l.Series[0]
		if len(s.Channels) != 3 || s.Channels[1].Name != "a (text)" || len(l.Findings) > 0 || len(s.Texts) != rows+rows/100 {
			t.Fatalf("%+v, %d texts, %v", s.Group, len(s.Texts), l.Findings)
		}
		for _, x := range s.Texts {
			if want := []map[int]string{1: a.Texts, 2: b.Texts}[x.Channel][x.Row]; x.Text != want {
				t.Fatalf("%+v, want %q", x, want)
			}
		}
		for i, v := range s.Values[0] {
			if s.T[i] != g.T[i] || v != a.Values[i] && !math.IsNaN(a.Values[i]) {
				t.Fatalf("row %d: %v at %v", i, v, s.T[i])
			}
		}
	}
}

func TestWhatCannotBeWritten(t *testing.T) {
	one := export.Channel{Channel: schema.Channel{Name: "x"}, Values: []float64{1}}
	for name, g := range map[string]export.Group{
		"a time that is none": {T: []float64{math.NaN()}, Channels: []export.Channel{one}}, "lengths": {T: []float64{0, 1}, Channels: []export.Channel{one}},
		"a text beyond": {T: []float64{0}, Channels: []export.Channel{{Texts: map[int]string{3: "x"}}}},
	} {
		if err := export.Write(&limited{}, export.File{Groups: []export.Group{g}}); err == nil {
			t.Errorf("%s: written", name)
		}
	}
}

// limited is a file on a disk that is full after so many bytes.
type limited struct {
	left int
	all  []byte
	at   int
}

func (l *limited) Write(b []byte) (int, error) {
	if len(b) > l.left {
		return 0, io.ErrShortWrite
	}
	l.left -= len(b)
	if need := l.at + len(b); need > len(l.all) {
		l.all = append(l.all, make([]byte, need-len(l.all))...)
	}
	l.at += copy(l.all[l.at:], b)
	return len(b), nil
}

func (l *limited) Seek(off int64, from int) (int64, error) {
	l.at = int(off)
	if from == io.SeekEnd {
		l.at = len(l.all)
	}
	return int64(l.at), nil
}

// An error of the disk at any byte comes through, and what was written until then is no MDF file.
func TestDiskFull(t *testing.T) {
	f := invent(1, false)
	g := &f.Groups[0]
	g.T = g.T[:20]
	for i := range g.Channels {
		c := &g.Channels[i]
		if c.Texts = map[int]string{3: "on"}; c.Values != nil {
			c.Values = c.Values[:20]
		}
	}
	f.Groups = f.Groups[:1]
	full := &limited{left: 1 << 30}
	if err := export.Write(full, f); err != nil {
		t.Fatal(err)
	}
	for left := 0; left < 1<<30-full.left; left += 997 {
		l := &limited{left: left}
		if err := export.Write(l, f); err == nil {
			t.Fatalf("no error with room for %d bytes", left)
		}
		if fit := (mdf4.Reader{}).Probe(l.all[:min(len(l.all), 64)]); fit.Score > 0 {
			t.Fatalf("%d bytes look like a file: %s", left, fit.Why)
		}
	}
}

// ExampleWrite writes two rows.
func ExampleWrite() {
	w := &limited{left: 1 << 20}
	err := export.Write(w, export.File{Program: "dynolake", Groups: []export.Group{{Name: "run", Clock: schema.Channel{Name: "t_s"}, T: []float64{0, 0.1},
		Channels: []export.Channel{{Channel: schema.Channel{Name: "boost_kpa", Unit: "kPa"}, Values: []float64{12, math.NaN()}}}}}})
	fmt.Printf("%v %q", err, w.all[:16])
	// Output: <nil> "MDF     4.10    "
}
