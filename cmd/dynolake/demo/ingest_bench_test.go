package demo

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	_ "github.com/duckdb/duckdb-go/v2"

	"dynolake/pipeline"
	"dynolake/pipeline/lake"
	"dynolake/schema"
)

const (
	benchRows     = 3000
	benchChannels = 60
)

// BenchmarkIngestPeers takes logs of 3,000 rows and 60 channels into an empty lake: units, derivation, segments, curves, checksums, fsync. Its peer is the engine's
// bare copy of the same text to one zstd Parquet file: with one schema and with union_by_name where all logs have one header, and with union_by_name where ten
// recorders wrote them, each with names and an order of its own, as a shop's logs come. An iteration is a round of all of them, so that each ratio is of one moment;
// cpu ratios are of processor time, which other work on the machine disturbs less. DYNOLAKE_BENCH_LOGS is the number of logs.
func BenchmarkIngestPeers(b *testing.B) {
	b.Run("one-header", func(b *testing.B) { besideCopies(b, 1, "one-schema", "union") })
	b.Run("ten-headers", func(b *testing.B) { besideCopies(b, 10, "union") })
}

// besideCopies times an ingest of logs with so many different headers beside the engine's copies of the kinds named.
func besideCopies(b *testing.B, headers int, kinds ...string) {
	n, err := strconv.Atoi(os.Getenv("DYNOLAKE_BENCH_LOGS"))
	if err != nil {
		n = 6
	}
	dir := b.TempDir()
	bytes := writeWide(b, dir, n, headers)
	recipe, err := pipeline.LoadRecipe(filepath.Join(dir, "config"))
	if err != nil {
		b.Fatal(err)
	}
	logs := filepath.Join(dir, "logs")
	works := []func() error{func() error { return takeInto(b, recipe, logs, n) }}
	for _, kind := range kinds {
		options := map[string]string{"one-schema": "", "union": ", union_by_name = true"}[kind]
		works = append(works, func() error { return bareCopy(b.Context(), logs, filepath.Join(dir, "bare.parquet"), options) })
	}
	wall, cpu := make([][]float64, len(works)), make([][]float64, len(works))
	for b.Loop() {
		for i, work := range works {
			was, start := processor(), time.Now()
			if err := work(); err != nil {
				b.Fatal(err)
			}
			wall[i], cpu[i] = append(wall[i], time.Since(start).Seconds()), append(cpu[i], processor()-was)
		}
	}
	b.ReportMetric(float64(n*benchRows)/middle(wall[0]), "rows/s")
	b.ReportMetric(float64(bytes)/1e6/middle(wall[0]), "MB/s")
	b.ReportMetric(middle(cpu[0])/float64(n)*1e3, "cpu-ms/log")
	for i, kind := range kinds {
		report(b, kind, wall[0], wall[i+1])
		report(b, kind+"-cpu", cpu[0], cpu[i+1])
	}
}

// report gives the median of the ratios of pairs, and their range.
func report(b *testing.B, name string, ours, peers []float64) {
	ratios := make([]float64, len(ours))
	for i := range ours {
		ratios[i] = ours[i] / peers[i]
	}
	b.ReportMetric(middle(ratios), "x-"+name)
	b.ReportMetric(slices.Min(ratios), "x-"+name+"-least")
	b.ReportMetric(slices.Max(ratios), "x-"+name+"-most")
}

func middle(v []float64) float64 { return slices.Sorted(slices.Values(v))[len(v)/2] }

// processor is the time that the process has had of its cores, s.
func processor() float64 {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u) // It fails for a wrong argument alone.
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()).Seconds()
}

// writeWide writes n logs with so many different headers in turn, with their sheet and the fleet's configuration, and gives the logs' bytes.
func writeWide(b *testing.B, dir string, n, headers int) int64 {
	m := Default()
	w := newWriter(m, dir, m.repeats(0, 1))
	sweeps := slices.DeleteFunc(w.plans, func(p plan) bool { return p.kind != "sweep" || len(p.gains) != 3 || p.part > 0 })
	traces := make([]*trace, min(n, len(sweeps)))
	for i := range traces {
		traces[i] = m.run(sweeps[i], false, nil)
	}
	var entries []entry
	size := int64(0)
	for i := range n {
		p, t := sweeps[i%len(traces)], traces[i%len(traces)]
		p.start = p.start.Add(time.Duration(i) * time.Minute)
		r := recorder{form: "wide", rate: benchRows / t.duration(), dialect: plain(), channels: wideChannels(i % headers)}
		data, err := r.write(m, fmt.Sprint(i), []*trace{t}, p.start)
		e := entry{plan: p, files: []string{fmt.Sprintf("log%05d.csv", i)}}
		if err := errors.Join(err, w.save("logs/"+e.files[0], data)); err != nil {
			b.Fatal(err)
		}
		entries, size = append(entries, e), size+int64(len(data))
	}
	sheet, err := runsCSV(entries)
	err = errors.Join(err, w.save("logs/runs.csv", []byte(sheet)), w.save("config/vehicles.yaml", []byte(vehiclesYAML(fleet()))), w.save("config/dynos.yaml", []byte(dynosYAML())))
	if err != nil {
		b.Fatal(err)
	}
	return size
}

// wideChannels are all that the model knows, by one of the catalogue's words for each, and some that nobody knows. Each recorder has words and an order of its own.
func wideChannels(recorder int) []channel {
	var list []channel
	for _, column := range signals {
		c, _ := schema.Lookup(column)
		unit := map[string]string{"1": "-", "N·m": "Nm"}[c.Unit]
		if unit == "" {
			unit = c.Unit
		}
		name := strings.ReplaceAll(column, "_", " ")
		if len(c.Aliases) > 0 {
			name = c.Aliases[recorder%len(c.Aliases)]
		}
		list = append(list, ch(name, unit, column))
	}
	for i := len(list) + 1; i < benchChannels; i++ {
		list = append(list, odd(fmt.Sprintf("Widget %d", i), "mg"))
	}
	turn := 7 * recorder % len(list)
	return append(list[turn:], list[:turn]...)
}

// takeInto makes a lake of the logs and takes it away again.
func takeInto(b *testing.B, recipe pipeline.Recipe, logs string, n int) (err error) {
	root, err := os.MkdirTemp(b.TempDir(), "lake")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(root)) }()
	if _, err := lake.Init(root, nil); err != nil {
		return err
	}
	l, err := lake.Open(b.Context(), root)
	if err != nil {
		return err
	}
	w, err := l.Write(b.Context(), "benchmark")
	if err != nil {
		return errors.Join(err, l.Close())
	}
	done, err := pipeline.Ingest(b.Context(), l, w, &recipe, []string{logs}, pipeline.Options{})
	if got := done.Count("stored"); err == nil && (got != n || done.Rows < int64(n)*(benchRows-2)) {
		err = fmt.Errorf("stored %d runs of %d rows, want %d of %d each", got, done.Rows, n, benchRows)
	}
	return errors.Join(err, w.Close(), l.Close())
}

// bareCopy is the engine's way from the text to one file.
func bareCopy(ctx context.Context, logs, to, options string) error {
	db, err := sql.Open("duckdb", "")
	if err != nil {
		return err
	}
	from := strings.ReplaceAll(filepath.Join(logs, "log*.csv"), "'", "''")
	_, err = db.ExecContext(ctx, "COPY (FROM read_csv('"+from+"'"+options+")) TO '"+strings.ReplaceAll(to, "'", "''")+"' (FORMAT parquet, COMPRESSION zstd)")
	return errors.Join(err, db.Close(), os.Remove(to))
}
