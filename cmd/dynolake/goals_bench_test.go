package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"dynolake/queries/packs"
)

// BenchmarkGoals measures what is promised of the speed, each work beside its peer in the same round, whole processes of the program as `go build` makes it, and
// prints one table. DYNOLAKE_BENCH_LAKE names the lake (a shop's year is made by `dynolake --lake year demo --repeat 133`), DYNOLAKE_BENCH_SMALLER one of a tenth of
// its runs for refresh; without them a demo of one repeat is made. DYNOLAKE_BENCH_ROUNDS is the number of pairs (5, but 1 on a lake made here), DYNOLAKE_BENCH_ONLY
// what the work's name has to hold. Neither lake is written to.
func BenchmarkGoals(b *testing.B) {
	g := newGoals(b)
	steps := []func(){g.start, g.verify, g.groupBy, g.packs, g.bytes, g.others, g.refresh}
	b.ResetTimer()
	for _, step := range steps {
		step()
	}
	fmt.Printf("\n%s\n", g.table())
}

// goals are being measured.
type goals struct {
	b           *testing.B
	dir         string
	program     string // As go build makes it.
	alone       string // The engine's alone.
	named       string // The lake that was asked for.
	lake, small string // A copy of it, and the smaller one.
	rounds      int
	rows        []goal
}

// goal is a row of the table.
type goal struct {
	work, peer  string
	wall, cpu   []float64 // Ratios, a round each; cpu may be empty.
	wanted      float64   // 0: nothing was promised, it is there to compare with.
	atLeast     bool
	what, extra string // What the ratios are, "×" if empty; what else was measured.
}

func newGoals(b *testing.B) *goals {
	g := &goals{b: b, dir: b.TempDir(), lake: os.Getenv("DYNOLAKE_BENCH_LAKE"), small: os.Getenv("DYNOLAKE_BENCH_SMALLER"), rounds: 5}
	g.program, g.alone = filepath.Join(g.dir, "dynolake"), filepath.Join(g.dir, "alone")
	process(b, "go", "build", "-o", g.program, ".")
	process(b, "go", "build", "-o", g.alone, "./testdata/alone")
	g.named = g.lake
	if g.lake == "" {
		g.named, g.lake, g.rounds = "a demo of one repeat", filepath.Join(g.dir, "demo"), 1
		process(b, g.program, "--lake", g.lake, "demo", "--quiet")
	}
	g.lake = g.copied(g.lake, "large")
	if n, err := strconv.Atoi(os.Getenv("DYNOLAKE_BENCH_ROUNDS")); err == nil {
		g.rounds = n
	}
	return g
}

// pairs measures a work beside its peer; each round has both, the peer first in every other one.
func (g *goals) pairs(row goal, ours, peer func() spent) {
	if !strings.Contains(row.work, os.Getenv("DYNOLAKE_BENCH_ONLY")) {
		return
	}
	took := [2][]spent{}
	for n := range g.rounds {
		if n%2 == 1 {
			took[1] = append(took[1], peer())
		}
		took[0] = append(took[0], ours())
		if n%2 == 0 {
			took[1] = append(took[1], peer())
		}
	}
	g.beside(row, took[0], took[1])
}

// beside adds the row of a work's rounds and its peer's.
func (g *goals) beside(row goal, ours, peer []spent) {
	var times []float64
	for i, o := range ours {
		row.wall, row.cpu, times = append(row.wall, o.wall/peer[i].wall), append(row.cpu, o.cpu/peer[i].cpu), append(times, o.wall)
	}
	row.extra = strings.TrimSpace(fmt.Sprintf("%s %s", duration(middle(times)), row.extra))
	g.add(row)
}

func (g *goals) add(row goal) {
	g.rows = append(g.rows, row)
	fmt.Fprintln(os.Stderr, row.line()) // A year's lake takes minutes: who waits sees how far it is.
}

func duration(s float64) string {
	return time.Duration(s * float64(time.Second)).Round(time.Millisecond / 10).String()
}

func (g *goals) run(args ...string) func() spent {
	return func() spent { return process(g.b, g.program, append([]string{"--lake", g.lake}, args...)...) }
}

func (g *goals) select1() spent {
	return g.run("query", "--sql", "select 1", "--format", "csv")()
}

// start is the help beside an empty program, and beside one that the engine is linked into and that does nothing with it.
func (g *goals) start() {
	empty := emptyProgram(g.b)
	help := func() spent { return process(g.b, g.program, "--help") }
	g.pairs(goal{work: "dynolake --help", peer: "an empty program", wanted: 3}, help, func() spent { return process(g.b, empty) })
	linked := linkedProgram(g)
	g.pairs(goal{work: "dynolake --help", peer: "an empty program with the engine linked"}, help, func() spent { return process(g.b, linked) })
}

func (g *goals) verify() {
	g.pairs(goal{work: "verify --quick", peer: "listing and stat of the same files", wanted: 3}, g.run("verify", "--quick", "--quiet"), func() spent { return g.listing() })
}

// listing looks at every file of the tables and the archive.
func (g *goals) listing() spent {
	s := spent{}
	for _, folder := range append(tableFolders(), "archive") {
		l := listing(g.b, filepath.Join(g.lake, folder))
		s.wall, s.cpu = s.wall+l.wall, s.cpu+l.cpu
	}
	return s
}

const groupBySQL = "SELECT floor(engine_speed_rpm / 250) AS bin, count(*) AS n FROM samples GROUP BY 1 ORDER BY 1"

func (g *goals) groupBy() {
	if !strings.Contains("group-by of a column", os.Getenv("DYNOLAKE_BENCH_ONLY")) {
		return
	}
	script, rows := g.sorted(24)
	g.pairs(goal{work: "group-by of a column", peer: "the engine alone on 24 sorted files", wanted: 1.1, extra: fmt.Sprintf("%.1f M rows", rows/1e6)},
		g.run("query", "--sql", groupBySQL), func() spent { return process(g.b, g.alone, script) })
}

// packs asks every query as the lake answers it, from the tables that the last refresh left, and computed anew. A round has both and their peers, so that
// each is measured once for two ratios.
func (g *goals) packs() {
	set, err := packs.Load("")
	if err != nil {
		g.b.Fatal(err)
	}
	for _, p := range set.All() {
		if !strings.Contains(p.Name, os.Getenv("DYNOLAKE_BENCH_ONLY")) {
			continue
		}
		statement, err := p.SQL(nil)
		if err != nil {
			g.b.Fatal(err)
		}
		script := g.script(p.Name, statement)
		works := []func() spent{g.select1, g.run("query", p.Name, "--format", "csv"), func() spent { return process(g.b, g.alone, script) }, g.run("query", p.Name, "--format", "csv", "--anew")}
		took := make([][]spent, len(works))
		for n := range g.rounds {
			for i := range works {
				if n%2 == 1 {
					i = len(works) - 1 - i
				}
				took[i] = append(took[i], works[i]())
			}
		}
		least, kept, bare, anew := took[0], took[1], took[2], took[3]
		g.beside(goal{work: p.Name, peer: "select 1", wanted: 3}, kept, least)
		g.beside(goal{work: p.Name, peer: "the engine alone", wanted: 1.2}, kept, bare)
		g.beside(goal{work: p.Name + " --anew", peer: "select 1", wanted: 3}, anew, least)
		g.beside(goal{work: p.Name + " --anew", peer: "the engine alone", wanted: 1.2}, anew, bare)
	}
}

// table is what was measured, for a page of text.
func (g *goals) table() string {
	var t strings.Builder
	t.WriteString("| work | beside | median | range | by processor time | wanted | met | |\n| --- | --- | --- | --- | --- | --- | --- | --- |\n")
	met, of := 0, 0
	for _, r := range g.rows {
		t.WriteString(r.line() + "\n")
		if r.wanted > 0 {
			of++
			if r.isMet() {
				met++
			}
		}
	}
	return t.String() + fmt.Sprintf("\n%d of %d goals met; %d pairs each, on %s.\n", met, of, g.rounds, g.named)
}

func (r goal) isMet() bool {
	if r.atLeast {
		return middle(r.wall) >= r.wanted
	}
	return middle(r.wall) <= r.wanted
}

func (r goal) line() string {
	unit := r.what
	if unit == "" {
		unit = " ×"
	}
	cpu, wanted, met := "", "", ""
	if len(r.cpu) > 0 {
		cpu = fmt.Sprintf("%.2f%s (%.2f–%.2f)", middle(r.cpu), unit, slices.Min(r.cpu), slices.Max(r.cpu))
	}
	if r.wanted > 0 {
		wanted, met = fmt.Sprintf("≤ %g%s", r.wanted, unit), "missed"
		if r.atLeast {
			wanted = fmt.Sprintf("≥ %g%s", r.wanted, unit)
		}
		if r.isMet() {
			met = "met"
		}
	}
	return fmt.Sprintf("| %s | %s | %.2f%s | %.2f–%.2f | %s | %s | %s | %s |", r.work, r.peer, middle(r.wall), unit, slices.Min(r.wall), slices.Max(r.wall), cpu, wanted, met, r.extra)
}

func middle(v []float64) float64 { return slices.Sorted(slices.Values(v))[len(v)/2] }
