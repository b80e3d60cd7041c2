package main

import (
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"dynolake/queries/packs"
)

// BenchmarkLake times whole processes over the lake that DYNOLAKE_BENCH_LAKE names, else over a small one, each beside its peer in the same round: every query
// beside `select 1`, the help beside an empty program, `verify --quick` beside a listing of the same files. x is the median ratio of wall times, x-cpu that
// of processor times, which other work on the machine disturbs less.
func BenchmarkLake(b *testing.B) {
	root := os.Getenv("DYNOLAKE_BENCH_LAKE")
	if root == "" {
		root = smallLake(b)
	}
	least := func() spent {
		return process(b, "dynolake", "--lake", root, "query", "--sql", "select 1", "--format", "csv")
	}
	set, err := packs.Load("")
	if err != nil {
		b.Fatal(err)
	}
	for _, p := range set.All() {
		b.Run("query="+p.Name, func(b *testing.B) {
			pairs(b, least, func() spent { return process(b, "dynolake", "--lake", root, "query", p.Name, "--format", "csv") })
		})
	}
	b.Run("help", func(b *testing.B) {
		empty := emptyProgram(b)
		pairs(b, func() spent { return process(b, empty) }, func() spent { return process(b, "dynolake", "--help") })
	})
	b.Run("verify", func(b *testing.B) {
		pairs(b, func() spent { return listing(b, root) }, func() spent { return process(b, "dynolake", "--lake", root, "verify", "--quick") })
	})
}

// spent is what a piece of work took, s.
type spent struct{ wall, cpu float64 }

func pairs(b *testing.B, peer, ours func() spent) {
	var wall, cpu []float64
	for b.Loop() {
		p, o := peer(), ours()
		wall, cpu = append(wall, o.wall/p.wall), append(cpu, o.cpu/p.cpu)
	}
	for name, ratios := range map[string][]float64{"x": wall, "x-cpu": cpu} {
		slices.Sort(ratios)
		b.ReportMetric(ratios[len(ratios)/2], name)
		b.ReportMetric(ratios[0], name+"-least")
		b.ReportMetric(ratios[len(ratios)-1], name+"-most")
	}
}

func process(b *testing.B, name string, args ...string) spent {
	c, start := exec.CommandContext(b.Context(), name, args...), time.Now()
	if err := c.Run(); err != nil {
		b.Fatalf("%s %q: %v", name, args, err)
	}
	return spent{time.Since(start).Seconds(), max(1e-6, (c.ProcessState.UserTime() + c.ProcessState.SystemTime()).Seconds())}
}

// listing looks at every file of a lake.
func listing(b *testing.B, root string) spent {
	start := time.Now()
	err := filepath.WalkDir(root, func(_ string, d fs.DirEntry, err error) error {
		if err == nil {
			_, err = d.Info()
		}
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	s := time.Since(start).Seconds()
	return spent{s, s}
}

func emptyProgram(b *testing.B) string {
	dir := b.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "main.go"), []byte("package main\n\nfunc main() {}\n"), 0o644); err != nil {
		b.Fatal(err)
	}
	to := filepath.Join(dir, "empty")
	process(b, "go", "build", "-o", to, filepath.Join(dir, "main.go"))
	return to
}

// smallLake holds a few runs, so that the benchmark can be run anywhere.
func smallLake(b *testing.B) string {
	root, logs := filepath.Join(b.TempDir(), "lake"), b.TempDir()
	for i := range 5 {
		if err := os.WriteFile(filepath.Join(logs, fmt.Sprintf("log%d.csv", i)), fmt.Appendf(nil, "Time [s],RPM [1/min]\n0,%d\n0.1,801\n", 700+i), 0o644); err != nil {
			b.Fatal(err)
		}
	}
	process(b, "dynolake", "init", "--lake", root)
	process(b, "dynolake", "ingest", "--lake", root, logs)
	return root
}
