package delimited_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math/rand/v2"
	"strconv"
	"testing"

	"dynolake/pipeline/read/delimited"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
)

// wideLog invents a wide log of so many rows and channels.
func wideLog(rows, channels int) []byte {
	rng := rand.New(rand.NewPCG(3, 4))
	var b bytes.Buffer
	b.WriteString("Time [s]")
	for c := range channels {
		fmt.Fprintf(&b, ",Channel %d [kPa]", c)
	}
	b.WriteString("\n")
	for r := range rows {
		b.WriteString(strconv.FormatFloat(float64(r)/100, 'f', 2, 64))
		for c := range channels {
			b.WriteByte(',')
			b.WriteString(strconv.FormatFloat(rng.Float64()*3000, 'f', c%4, 64))
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

func longLog(rows int) []byte {
	rng := rand.New(rand.NewPCG(3, 4))
	var b bytes.Buffer
	b.WriteString(`"SECONDS";"PID";"VALUE";"UNITS"` + "\n")
	for r := range rows {
		fmt.Fprintf(&b, "\"%.4f\";\"Channel number %d\";\"%.2f\";\"kPa\"\n", float64(r)/100, r%20, rng.Float64()*300)
	}
	return b.Bytes()
}

// drain is a sink that keeps nothing.
type drain struct{ rows, groups int }

func (d *drain) Group(schema.Group) (int, error)  { d.groups++; return d.groups - 1, nil }
func (d *drain) Rows(_ int, b schema.Batch) error { d.rows += len(b.T); return nil }
func (d *drain) Restart() error                   { return nil }
func (d *drain) Note(string, string)              {}
func (d *drain) Find(schema.Finding)              {}

// The reader beside the standard library's csv and ParseFloat on the same bytes. -cpu 1 has both on one core.
func BenchmarkRead(b *testing.B) {
	for name, data := range map[string][]byte{"wide": wideLog(50_000, 20), "long": longLog(100_000)} {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(2 * int64(len(data)))
			readtest.Beside(b, func() error {
				d := &drain{}
				if err := (delimited.Reader{}).Read(b.Context(), readtest.Bytes("log.csv", data), d); err != nil || d.rows == 0 {
					return fmt.Errorf("%d rows: %w", d.rows, err)
				}
				return nil
			}, func() error { return standard(data) })
		})
	}
}

func standard(data []byte) error {
	r := csv.NewReader(bytes.NewReader(data))
	r.ReuseRecord = true
	if bytes.IndexByte(data[:40], ';') >= 0 {
		r.Comma = ';'
	}
	sum := 0.0
	for {
		cells, err := r.Read()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		for _, c := range cells {
			if v, err := strconv.ParseFloat(c, 64); err == nil {
				sum += v
			}
		}
	}
}
