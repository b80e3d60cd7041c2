package lake

import (
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"

	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
)

const benchRows, benchColumns = 3000, 60

// benchFrame is a run as a recorder leaves it: every column filled, values that drift and carry a sensor's last digits.
func benchFrame() *schema.Frame {
	r := rand.New(rand.NewPCG(1, 2))
	f := schema.NewFrame(make([]float64, benchRows))
	for i := range f.T {
		f.T[i] = float64(i) / 50
	}
	n := 0
	for _, c := range schema.Columns() {
		if c.Type != "float32" || n == benchColumns {
			continue
		}
		n++
		v := make([]float64, benchRows)
		for i := range v {
			v[i] = math.Round(100*(50+40*math.Sin(float64(i)/300+float64(n))+r.NormFloat64()))/100 + float64(n)
		}
		f.Set(c.Name, v)
	}
	return f
}

// BenchmarkSamples writes a frame as the lake does, beside the library alone: the same values with the same settings from arrays that are there already, the least that any
// writer on it can take.
func BenchmarkSamples(b *testing.B) {
	f := benchFrame()
	s := samplesSheet("0123456789abcdef", f)
	form := arrow.NewSchema(fields(s.columns), nil)
	columns := make([]arrow.Array, len(s.columns))
	for i, c := range s.columns {
		columns[i] = s.array(memory.DefaultAllocator, c, 0, benchRows)
	}
	record := array.NewRecordBatch(form, columns, benchRows)
	readtest.Beside(b, func() error { return samplesSheet("0123456789abcdef", f).Write(io.Discard, arrow.Metadata{}) }, func() error {
		w, err := pqarrow.NewFileWriter(form, unclosed{io.Discard}, properties(form, groupRows), pqarrow.DefaultWriterProps())
		if err != nil {
			return err
		}
		return errors.Join(w.Write(record), w.Close())
	})
}

// BenchmarkCommit stores one such run with all that belongs to it, durably.
func BenchmarkCommit(b *testing.B) {
	l := newTestLake(b)
	w, err := l.Write(b.Context(), "bench")
	if err != nil {
		b.Fatal(err)
	}
	e := entry(1, 2, "a")
	e.Frame = benchFrame()
	for b.Loop() {
		if err := archiveAndCommit(b.Context(), w, Batch{Runs: []Entry{e}, Replace: true}); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		b.Fatal(err)
	}
}
