package read_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"syscall"
	"testing"
	"time"

	"dynolake/pipeline/read"
	"dynolake/schema"
)

// drain is a sink that keeps nothing but counts, and the most memory that was in use.
type drain struct {
	groups, rows, batches int
	peak                  uint64
}

func (d *drain) Group(schema.Group) (int, error) { d.groups++; return d.groups - 1, nil }
func (d *drain) Rows(_ int, b schema.Batch) error {
	d.rows += len(b.T)
	if d.batches++; d.batches%256 == 1 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		d.peak = max(d.peak, m.HeapInuse+m.StackInuse)
	}
	return nil
}
func (d *drain) Restart() error      { return nil }
func (d *drain) Note(string, string) {}
func (d *drain) Find(schema.Finding) {}

// cpu is the processor time that this process has taken so far, seconds.
func cpu(b *testing.B) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()).Seconds()
}

// BenchmarkForms reads an invented log of each form the whole way from the file's bytes: unpacked, detected, read. Each is made of
// about DYNOLAKE_BENCH_MIB MiB (8 when it is not set) in DYNOLAKE_BENCH_DIR or a folder that goes again. MB are the file's own
// bytes; cpu-MB/s are those for a second of processor time, peak-MiB the most of the heap that was in use.
//
//	DYNOLAKE_BENCH_MIB=1024 go test ./pipeline/read -run '^$' -bench Forms -benchtime 3x
func BenchmarkForms(b *testing.B) {
	mib, err := strconv.Atoi(os.Getenv("DYNOLAKE_BENCH_MIB"))
	if err != nil {
		mib = 8
	}
	for _, f := range forms() {
		b.Run(f.name, func(b *testing.B) {
			dir, err := os.MkdirTemp(os.Getenv("DYNOLAKE_BENCH_DIR"), "bench")
			if err != nil {
				b.Fatal(err)
			}
			defer func() { _ = os.RemoveAll(dir) }() // A folder for temporary files is swept anyway.
			path := filepath.Join(dir, "log.bin")
			if err := f.write(path, mib<<20); err != nil {
				b.Fatal(err)
			}
			runtime.GC()
			measure(b, path)
		})
	}
}

func measure(b *testing.B, path string) {
	info, err := os.Stat(path)
	if err != nil {
		b.Fatal(err)
	}
	src := schema.Source{Name: "log.bin", Size: info.Size(), Open: func() (io.ReadCloser, error) { return os.Open(path) }}
	b.SetBytes(info.Size())
	var peak uint64
	rows, begin := 0, cpu(b)
	for b.Loop() {
		d := &drain{}
		if err := whole(src, d); err != nil {
			b.Fatal(err)
		}
		if rows, peak = rows+d.rows, max(peak, d.peak); d.rows == 0 {
			b.Fatal("no rows")
		}
	}
	used := cpu(b) - begin
	b.ReportMetric(float64(rows)/b.Elapsed().Seconds(), "rows/s")
	b.ReportMetric(float64(info.Size())*float64(b.N)/1e6/used, "cpu-MB/s")
	b.ReportMetric(float64(peak)/(1<<20), "peak-MiB")
	b.ReportMetric(float64(rows)/float64(b.N), "rows")
}

// whole reads a source as the pipeline does.
func whole(src schema.Source, sink schema.Sink) error {
	ctx := context.Background()
	list, _, err := read.Expand(ctx, src)
	if err != nil {
		return err
	}
	for _, s := range list {
		r, err := read.Detect(ctx, s)
		if err != nil {
			return err
		}
		if err := r.Read(ctx, s, sink); err != nil {
			return err
		}
	}
	return nil
}

// invented is a value of an invented log: it moves slowly, with digits that sensors have.
func invented(row, channel int) float64 {
	return float64((row*(channel+3)/7)%20000)/8 + float64(channel)
}

const benchChannels = 30

// table writes rows of text until so many bytes are out.
func table(w io.Writer, size int) error {
	var line bytes.Buffer
	line.WriteString("Time [s]")
	for c := range benchChannels {
		fmt.Fprintf(&line, ",channel %d [kPa]", c)
	}
	line.WriteByte('\n')
	b := make([]byte, 0, 512)
	for row := 0; size > 0; row++ {
		b = strconv.AppendFloat(b[:0], float64(row)/100, 'f', 2, 64)
		for c := range benchChannels {
			b = strconv.AppendFloat(append(b, ','), invented(row, c), 'f', -1, 64)
		}
		line.Write(append(b, '\n'))
		if line.Len() > 1<<16 || size < line.Len() {
			if _, err := w.Write(line.Bytes()); err != nil {
				return err
			}
			size -= line.Len()
			line.Reset()
		}
	}
	return nil
}
