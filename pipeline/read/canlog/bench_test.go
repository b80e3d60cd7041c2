package canlog_test

import (
	"bytes"
	"context"
	"fmt"
	"testing"

	"dynolake/pipeline/read/canlog"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
)

// busLog invents so many frames of a heavy engine's bus and of one that nothing knows.
func busLog(frames int) []byte {
	var b bytes.Buffer
	for i := range frames {
		t := float64(i) / 2000
		switch i % 4 {
		case 0:
			fmt.Fprintf(&b, "(%.6f) can1 0CF00400#207D87%02X1400F087\n", 1594172461+t, i/4%256)
		case 1:
			fmt.Fprintf(&b, "(%.6f) can1 18FEF600#FF14%02XFFFF402CFF\n", 1594172461+t, i/4%200)
		case 2:
			fmt.Fprintf(&b, "(%.6f) can0 18FF3300#00000000000000%02X\n", 1594172461+t, i/4%256)
		default:
			fmt.Fprintf(&b, "(%.6f) can0 7E8#04410C%02XF8AAAAAA\n", 1594172461+t, i/4%256)
		}
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

func BenchmarkRead(b *testing.B) {
	data := busLog(200_000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		d := &drain{}
		if err := (canlog.Reader{}).Read(context.Background(), readtest.Bytes("log.csv", data), d); err != nil || d.rows != 150_000 {
			b.Fatal(d.rows, err)
		}
	}
}
