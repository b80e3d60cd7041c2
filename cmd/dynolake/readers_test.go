package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"

	"dynolake/pipeline/lake"
	"dynolake/queries/engine"

	"golang.org/x/sync/errgroup"
)

// readers is how many read at the same time.
const readers = 4

// writing is a lake that processes of the program itself write to, one after the other.
type writingLake struct {
	dir, lake string
	commands  int
}

func (w *writingLake) program(t *testing.T, args ...string) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Args = append([]string{"dynolake"}, append(args, "--lake", w.lake, "--quiet")...)
	c.Env = append(os.Environ(), "DYNOLAKE=")
	if out, err := c.CombinedOutput(); err != nil {
		t.Errorf("%s: %v: %s", strings.Join(args, " "), err, out)
	}
	w.commands++
}

// log writes a log whose speeds add up to what its number of rows says, and its sheet.
func (w *writingLake) log(t *testing.T, n, calibration int) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("Time [s],Engine Speed [rpm],Pedal [%]\n")
	for i := range 20 + n {
		fmt.Fprintf(&b, "%d.%d,%d,50\n", i/10, i%10, 1000+i)
	}
	path := filepath.Join(w.dir, fmt.Sprintf("log%d.csv", n))
	sheet := fmt.Sprintf("vehicle: van-%d\ncalibration: c%d\nstarted_at: 2026-0%d-01 10:00\nbaro: 100 kPa\n", n%3, calibration, 1+n%5)
	for p, text := range map[string]string{path: b.String(), strings.TrimSuffix(path, ".csv") + ".run.yaml": sheet} {
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return path
}

// write stores new runs, makes old ones again and compacts, time and again.
func (w *writingLake) write(ctx context.Context, t *testing.T) {
	for n := 3; ctx.Err() == nil; n++ {
		w.program(t, "ingest", w.log(t, n, 0))
		w.program(t, "ingest", w.log(t, n-2, n)) // Its sheet was edited: the run is made again.
		if n%3 == 0 {
			w.program(t, "refresh")
		}
		if n%4 == 0 {
			w.program(t, "compact")
		}
		if n%10 == 0 {
			w.program(t, "reprocess")
		}
	}
}

// broken counts the runs of which a table of the snapshot tells something else than the runs do.
const broken = `WITH s AS (SELECT run_id, count(*) AS n, sum(engine_speed_rpm) AS speeds, max(t_s) AS last FROM samples GROUP BY run_id)
SELECT count(*) AS runs, count(*) FILTER (WHERE s.n IS DISTINCT FROM r.rows OR s.speeds <> 1000 * r.rows + r.rows * (r.rows - 1) / 2 OR abs(s.last - r.duration_s) > 1e-6
	OR NOT EXISTS (SELECT 1 FROM sources o WHERE o.run_id = r.run_id AND o.rows = r.rows)) AS broken,
	(SELECT count(*) FROM samples x WHERE x.run_id NOT IN (SELECT run_id FROM runs)) + (SELECT count(*) FROM curves x WHERE x.run_id NOT IN (SELECT run_id FROM runs)) AS strays
FROM runs r LEFT JOIN s ON s.run_id = r.run_id`

// read opens the lake as a command does, and answers how many runs it has and what is wrong with them.
func (w *writingLake) read(ctx context.Context) (runs int64, wrong string, err error) {
	l, err := lake.Open(ctx, w.lake)
	if err != nil {
		return 0, "", err
	}
	defer func() { _ = l.Close() }()
	snap, err := l.Snapshot(ctx)
	if err != nil {
		return 0, "", err
	}
	s, err := engine.Open(ctx, snap, engine.Options{Threads: 1})
	if err != nil {
		return 0, "", err
	}
	defer func() { _ = s.Close() }()
	rows, err := s.Query(ctx, broken)
	if err != nil {
		return 0, "", err
	}
	all, err := rows.All()
	if err != nil {
		return 0, "", err
	}
	runs, _ = all[0][0].(int64)
	if fmt.Sprint(all[0][1:]) != "[0 0]" {
		wrong = fmt.Sprintf("of %d runs, broken and stray: %v", runs, all[0][1:])
	}
	return runs, wrong, nil
}

// Any number read during any writing: no read is wrong, none fails, and what was there stays. DYNOLAKE_READS says how many are made.
func TestReadersDuringWriting(t *testing.T) {
	reads := 80
	if n, err := strconv.Atoi(os.Getenv("DYNOLAKE_READS")); err == nil {
		reads = n
	}
	w := &writingLake{dir: t.TempDir(), lake: filepath.Join(t.TempDir(), "lake")}
	w.program(t, "init")
	for n := range 3 {
		w.program(t, "ingest", w.log(t, n, 0))
	}
	ctx, stop := context.WithCancel(t.Context())
	written := make(chan struct{})
	go func() {
		defer close(written)
		w.write(ctx, t)
	}()
	var made, wrong, failed atomic.Int64
	var group errgroup.Group
	for range readers {
		group.Go(func() error {
			least := int64(3)
			for n := made.Add(1); n <= int64(reads); n = made.Add(1) {
				if n%500 == 0 {
					t.Logf("%d reads, %d wrong, %d failed so far", n, wrong.Load(), failed.Load())
				}
				runs, what, err := w.read(t.Context())
				switch {
				case err != nil:
					failed.Add(1)
					t.Errorf("a read failed: %v", err)
				case what != "" || runs < least:
					wrong.Add(1)
					t.Errorf("a read is wrong: %s (%d runs, %d before)", what, runs, least)
				}
				least = max(least, runs)
			}
			return nil
		})
	}
	_ = group.Wait() // Readers tell of what is wrong by themselves.
	stop()
	<-written
	w.program(t, "verify")
	t.Logf("%d reads, %d wrong, %d failed, beside %d commands that wrote", reads, wrong.Load(), failed.Load(), w.commands)
}
