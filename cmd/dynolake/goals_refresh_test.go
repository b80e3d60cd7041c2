package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"dynolake/cmd/dynolake/demo"
)

// newRunsBench is how many runs are new in a night.
const newRunsBench = 50

// refresh takes 50 new runs into copies of the large and the small lake, in turns.
func (g *goals) refresh() {
	row := goal{work: "refresh with 50 new runs", peer: "the same in the smaller lake", wanted: 1.2}
	if !strings.Contains(row.work, os.Getenv("DYNOLAKE_BENCH_ONLY")) {
		return
	}
	if g.small == "" {
		g.small, row.peer, row.wanted = g.lake, "the same in another copy of the lake", 0
	}
	large, small := g.lake, g.copied(g.small, "small")
	night, peak := 0, 0.0
	once := func(root string) spent {
		runsOf(g, 1000+night/2, filepath.Join(root, "inbox")) // Both lakes get the same new runs.
		night++
		s, mib := measured(g, root)
		if root == large {
			peak = max(peak, mib)
		}
		return s
	}
	row.extra = fmt.Sprintf("%d runs against %d", int(g.runs(large)), int(g.runs(small)))
	g.pairs(row, func() spent { return once(large) }, func() spent { return once(small) })
	g.add(goal{work: "refresh with 50 new runs, peak memory", peer: "–", wall: []float64{peak}, wanted: 512, what: " MiB"})
}

func (g *goals) runs(root string) float64 {
	was := g.lake
	defer func() { g.lake = was }()
	g.lake = root
	return g.number("SELECT count(*) FROM read_parquet([" + strings.Join(g.files("runs"), ", ") + "])")
}

// measured refreshes a lake, with its peak memory in MiB. A file waits for a second look a second later: that second is no work.
func measured(g *goals, root string) (spent, float64) {
	c, start := exec.CommandContext(g.b.Context(), g.program, "--lake", root, "refresh", "--quiet"), time.Now()
	if err := c.Run(); err != nil {
		g.b.Fatalf("refresh %s: %v", root, err)
	}
	usage, _ := c.ProcessState.SysUsage().(*syscall.Rusage)
	return spent{time.Since(start).Seconds(), (c.ProcessState.UserTime() + c.ProcessState.SystemTime()).Seconds()}, float64(usage.Maxrss) / 1024
}

// runsOf puts the first fifty runs of the demo's n-th repeat, and what belongs to them, into a folder.
func runsOf(g *goals, n int, to string) {
	from := filepath.Join(g.dir, fmt.Sprintf("repeat%d", n))
	if _, err := os.Stat(from); errors.Is(err, fs.ErrNotExist) {
		if err := demo.Default().WriteRepeat(g.b.Context(), from, n); err != nil {
			g.b.Fatal(err)
		}
	}
	if took, err := firstRuns(filepath.Join(from, "logs"), to, newRunsBench); err != nil || took != newRunsBench {
		g.b.Fatalf("lay out new runs: %d of %d, %v", took, newRunsBench, err)
	}
}

// firstRuns copies the logs of the first n rows of the run sheets beneath a folder, with a sheet for them, and what no row names.
func firstRuns(from, to string, n int) (took int, err error) {
	sheets, err := filepath.Glob(filepath.Join(from, "*", "runs.csv"))
	if err != nil {
		return 0, err
	}
	for _, sheet := range sheets {
		if took == n {
			break
		}
		text, err := os.ReadFile(sheet)
		if err != nil {
			return took, err
		}
		rows, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
		if err != nil {
			return took, err
		}
		kept := rows[:min(len(rows), n-took+1)]
		if err := copyRuns(filepath.Dir(sheet), filepath.Join(to, filepath.Base(filepath.Dir(sheet))), rows, kept); err != nil {
			return took, err
		}
		took += len(kept) - 1
	}
	return took, nil
}

// copyRuns copies a folder without the logs of the rows that are not kept.
func copyRuns(from, to string, rows, kept [][]string) error {
	out := map[string]bool{"runs.csv": true}
	column := slices.Index(rows[0], "files")
	for _, r := range rows[len(kept):] {
		for _, f := range strings.Split(r[column], ";") {
			name, _, _ := strings.Cut(f, "#")
			out[name] = true
		}
	}
	if err := os.MkdirAll(to, 0o755); err != nil {
		return err
	}
	files, err := os.ReadDir(from)
	if err != nil {
		return err
	}
	for _, f := range files {
		if !out[f.Name()] && !strings.HasSuffix(f.Name(), ".run.yaml") {
			if e := os.Link(filepath.Join(from, f.Name()), filepath.Join(to, f.Name())); !errors.Is(e, fs.ErrExist) { // A bus database stays from the night before.
				err = errors.Join(err, e)
			}
		}
	}
	var text strings.Builder
	err = errors.Join(err, csv.NewWriter(&text).WriteAll(kept))
	return errors.Join(err, os.WriteFile(filepath.Join(to, "runs.csv"), []byte(text.String()), 0o644))
}

// copied makes a lake of its own to measure, with tables as this program keeps them.
func (g *goals) copied(from, name string) string {
	to := filepath.Join(g.dir, name)
	if err := linked(from, to); err != nil {
		g.b.Fatal(err)
	}
	process(g.b, g.program, "--lake", to, "refresh", "--quiet")
	return to
}

// linked makes a copy of a lake that shares its archived bytes and tables, which are never written again, and has a catalogue of its own.
func linked(from, to string) error {
	shared := append(tableFolders(), "archive")
	return filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		rel, e := filepath.Rel(from, path)
		if err := errors.Join(err, e); err != nil {
			return err
		}
		top, _, _ := strings.Cut(filepath.ToSlash(rel), "/")
		switch {
		case top == "demo" || top == "inbox" && rel != top:
			return nil
		case d.IsDir():
			return os.MkdirAll(filepath.Join(to, rel), 0o755)
		case slices.Contains(shared, top) && os.Link(path, filepath.Join(to, rel)) == nil: // Else it is another file system.
			return nil
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		return os.WriteFile(filepath.Join(to, rel), text, 0o644)
	})
}
