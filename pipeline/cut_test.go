package pipeline_test

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
)

// long is the text of a log of n rows.
func long(n int) string {
	r := rand.New(rand.NewPCG(1952, 2))
	var b strings.Builder
	b.WriteString("Time [s],RPM [1/min],Boost [kPa]\n")
	for i := range n {
		fmt.Fprintf(&b, "%.2f,%d,%.3f\n", float64(i)/50, 800+r.IntN(3000), 200*r.Float64())
	}
	return b.String()
}

func gzipped(t *testing.T, text string) string {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, err := w.Write([]byte(text))
	if err := errors.Join(err, w.Close()); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Of a packed log that breaks off the whole lines are a run, with a doubt; when the log comes whole, packed or not, with a sheet or
// without, that run gives way to it, and the cut one does not come back beside it.
func TestACutLogGivesWayToTheWhole(t *testing.T) {
	text := long(4000)
	whole := gzipped(t, text)
	for name, c := range map[string]struct{ sheet, as, bytes string }{
		"again":    {"", "a.csv.gz", whole},
		"sheeted":  {"files,vehicle\na.csv.gz,v\n", "a.csv.gz", whole},
		"renamed":  {"", "a (1).csv.gz", whole},
		"unpacked": {"", "a.csv", text},
	} {
		t.Run(name, func(t *testing.T) {
			s := newShop(t)
			s.write("a.csv.gz", whole[:len(whole)*2/3])
			if c.sheet != "" {
				s.write("runs.csv", c.sheet)
			}
			s.want(s.ingest("."), "stored a.csv.gz")
			s.want(s.ingest("."), "unchanged a.csv.gz")
			s.want(s.reprocess(), "remade a.csv.gz")
			s.write(c.as, c.bytes)
			s.want(s.ingest("."), "retired a.csv.gz", "stored "+c.as)
			s.want(s.sources(), c.as)
			s.want(s.ingest("."), "unchanged "+c.as)
		})
	}
}

// A cut log whose rows are of a form that needs all of its bytes, or that has none, is set aside as before.
func TestACutLogOfNoUse(t *testing.T) {
	s := newShop(t)
	whole := gzipped(t, "PAR1"+long(4000))
	s.write("a.parquet.gz", whole[:len(whole)/2])
	short := gzipped(t, long(20))
	s.write("b.csv.gz", short[:60])
	for _, line := range s.ingest(".") {
		if !strings.HasPrefix(line, "set aside ") {
			t.Errorf("%s", line)
		}
	}
	s.want(s.sources())
}
