package main

import (
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
)

// other is a work that is measured beside its code, in its own package: by a benchmark that reports a ratio with its least and its most, or by two
// that are run in turns.
type other struct {
	work, peer string
	folder     string
	bench      string   // What go test is asked to run.
	line       string   // What the work's line begins with.
	units      []string // Of the ratio's median, least and most.
	against    string   // What the peer's line begins with, where there are two.
	wanted     float64
	atLeast    bool
}

func others() []other {
	beside := []string{"x-peer", "x-least", "x-most"}
	ingest := func(peer, unit string, wanted float64) other {
		return other{work: "ingest logs of 3,000 rows × 60 channels", peer: peer, folder: "demo", bench: "^BenchmarkIngestPeers$", line: "BenchmarkIngestPeers",
			units: []string{unit, unit + "-least", unit + "-most"}, wanted: wanted}
	}
	read := func(work, peer, bench, line string, wanted float64) other {
		return other{work: work, peer: peer, folder: "../../pipeline/read/mdf4", bench: bench, line: line, units: beside, wanted: wanted, atLeast: true}
	}
	return []other{
		ingest("the engine's copy, one schema", "x-one-schema", 0.5),
		ingest("the engine's copy, union_by_name", "x-union", 0.08),
		{work: "parse delimited text", peer: "encoding/csv and ParseFloat", folder: "../../pipeline/read/delimited", bench: "^BenchmarkRead$/^wide$", line: "BenchmarkRead/wide/delimited",
			units: beside, against: "BenchmarkRead/wide/encoding-csv", wanted: 4, atLeast: true},
		read("read MDF 4, stored", "a plain read of the file", "^BenchmarkRead$", "BenchmarkRead", 0.5),
		read("read MDF 4, deflated", "the deflate library alone", "^BenchmarkDeflate$", "BenchmarkDeflate/plain", 0.8),
		read("read MDF 4, deflated and transposed", "the deflate library alone", "^BenchmarkDeflate$", "BenchmarkDeflate/transposed", 0.8),
		{work: "write Parquet", peer: "arrow-go with the same settings", folder: "../../pipeline/lake", bench: "^(BenchmarkSamples|BenchmarkArrowAlone)$", line: "BenchmarkSamples",
			units: beside, against: "BenchmarkArrowAlone", wanted: 0.8, atLeast: true},
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
			args := []string{"test", ".", "-run", "^$", "-bench", o.bench, "-benchtime", strconv.Itoa(g.rounds) + "x"}
			if o.against != "" {
				args = append(args, "-count", strconv.Itoa(g.rounds))
			}
			c := exec.CommandContext(g.b.Context(), "go", args...)
			c.Dir = o.folder
			text, err := c.CombinedOutput()
			if err != nil {
				g.b.Fatalf("%s: %v: %s", key, err, text)
			}
			printed[key] = string(text)
		}
		o.read(g, printed[key])
	}
}

// read takes ratios from what a benchmark printed.
func (o other) read(g *goals, printed string) {
	ours, peers := measurements(printed, o.line), measurements(printed, o.against)
	var ratios []float64
	for i, m := range ours {
		if x, ok := m[o.units[0]]; ok {
			ratios = []float64{m[o.units[1]], x, m[o.units[2]]}
			break
		}
		if i < len(peers) && m["ns/op"] > 0 {
			ratios = append(ratios, peers[i]["ns/op"]/m["ns/op"])
		}
	}
	if len(ratios) == 0 {
		g.b.Fatalf("%s: nothing is measured in %q", o.work, printed)
	}
	g.add(goal{work: o.work, peer: o.peer, wall: ratios, wanted: o.wanted, atLeast: o.atLeast})
}

// measurements reads the lines of a benchmark, by unit.
func measurements(printed, begin string) []map[string]float64 {
	var list []map[string]float64
	for line := range strings.Lines(printed) {
		if begin == "" || !strings.HasPrefix(line, begin) {
			continue
		}
		m := map[string]float64{}
		for pair := range slices.Chunk(strings.Fields(line)[2:], 2) {
			if x, err := strconv.ParseFloat(pair[0], 64); err == nil && len(pair) == 2 {
				m[pair[1]] = x
			}
		}
		list = append(list, m)
	}
	return list
}
