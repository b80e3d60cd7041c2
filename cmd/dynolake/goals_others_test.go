package main

import (
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
)

// other is a work that is measured beside its code, in its own package, by a benchmark that reports a ratio with its least and its most.
type other struct {
	work, peer string
	folder     string
	bench      string   // What go test is asked to run.
	line       string   // What the work's line begins with.
	units      []string // Of the ratio's median, least and most.
	wanted     float64
	atLeast    bool
}

func others() []other {
	beside := []string{"x-peer", "x-least", "x-most"}
	ingest := func(peer, part, unit string, wanted float64) other {
		return other{work: "ingest logs of 3,000 rows × 60 channels", peer: peer, folder: "demo", bench: "^BenchmarkIngestPeers$", line: "BenchmarkIngestPeers/" + part,
			units: []string{unit, unit + "-least", unit + "-most"}, wanted: wanted}
	}
	faster := func(work, peer, folder, bench, line string, wanted float64) other {
		return other{work: work, peer: peer, folder: "../../pipeline/" + folder, bench: bench, line: line, units: beside, wanted: wanted, atLeast: true}
	}
	return []other{
		ingest("the engine's copy, one schema", "one-header", "x-one-schema", 0.5),
		ingest("the engine's copy, union_by_name", "one-header", "x-union", 0.08),
		ingest("the engine's copy, union_by_name, ten headers", "ten-headers", "x-union", 0.08),
		faster("parse delimited text", "encoding/csv and ParseFloat", "read/delimited", "^BenchmarkRead$/^wide$", "BenchmarkRead/wide", 4),
		faster("read MDF 4, stored", "a plain read of the file", "read/mdf4", "^BenchmarkRead$", "BenchmarkRead", 0.5),
		faster("read MDF 4, deflated", "the deflate library alone", "read/mdf4", "^BenchmarkDeflate$", "BenchmarkDeflate/plain", 0.8),
		faster("read MDF 4, deflated and transposed", "the deflate library alone", "read/mdf4", "^BenchmarkDeflate$", "BenchmarkDeflate/transposed", 0.8),
		faster("write Parquet", "arrow-go with the same settings", "lake", "^BenchmarkSamples$", "BenchmarkSamples", 0.8),
	}
}

// others runs those benchmarks, each once for all that is read from it.
func (g *goals) others() {
	printed := map[string]string{}
	for _, o := range others() {
		if !strings.Contains(o.work, os.Getenv("DYNOLAKE_BENCH_ONLY")) {
			continue
		}
		key := o.folder + " " + o.bench
		if _, ran := printed[key]; !ran {
			c := exec.CommandContext(g.b.Context(), "go", "test", ".", "-run", "^$", "-bench", o.bench, "-benchtime", strconv.Itoa(g.rounds)+"x")
			c.Dir = o.folder
			if os.Getenv("DYNOLAKE_BENCH_LOGS") == "" {
				c.Env = append(os.Environ(), "DYNOLAKE_BENCH_LOGS=300") // As the goal has it; fewer by itself.
			}
			text, err := c.CombinedOutput()
			if err != nil {
				g.b.Fatalf("%s: %v: %s", key, err, text)
			}
			printed[key] = string(text)
		}
		o.read(g, printed[key])
	}
}

// read takes the ratio from what a benchmark printed.
func (o other) read(g *goals, printed string) {
	for line := range strings.Lines(printed) {
		if !strings.HasPrefix(line, o.line) {
			continue
		}
		m := measurements(line)
		if median, ok := m[o.units[0]]; ok {
			g.add(goal{work: o.work, peer: o.peer, wall: []float64{m[o.units[1]], median, m[o.units[2]]}, wanted: o.wanted, atLeast: o.atLeast})
			return
		}
	}
	g.b.Fatalf("%s: nothing is measured in %q", o.work, printed)
}

// measurements reads a benchmark's line, by unit.
func measurements(line string) map[string]float64 {
	m := map[string]float64{}
	for pair := range slices.Chunk(strings.Fields(line)[2:], 2) {
		if x, err := strconv.ParseFloat(pair[0], 64); err == nil && len(pair) == 2 {
			m[pair[1]] = x
		}
	}
	return m
}
