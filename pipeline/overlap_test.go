package pipeline_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dynolake/pipeline"
	"dynolake/pipeline/lake"

	"github.com/parquet-go/parquet-go"
)

// shop is a lake and a folder of logs.
type shop struct {
	t    *testing.T
	lake string
	logs string
}

func newShop(t *testing.T) shop {
	t.Helper()
	s := shop{t, filepath.Join(t.TempDir(), "lake"), t.TempDir()}
	if _, err := lake.Init(s.lake, pipeline.Starters()); err != nil {
		t.Fatal(err)
	}
	return s
}

// log writes a small log of one recorder.
func (s shop) log(name string, seed int) {
	s.t.Helper()
	text := strings.Builder{}
	fmt.Fprintf(&text, "Time [s],RPM [1/min],Channel %d [V]\n", seed)
	for i := range 8 {
		fmt.Fprintf(&text, "%.1f,%d,%d\n", float64(i)/10, 800+(i*i*(seed+3))%97, seed*i)
	}
	s.write(name, text.String())
}

func (s shop) write(name, text string) {
	s.t.Helper()
	path := filepath.Join(s.logs, name)
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path, []byte(text), 0o644)); err != nil {
		s.t.Fatal(err)
	}
}

// ingest takes paths below the logs' folder and gives the outcomes.
func (s shop) ingest(paths ...string) []string {
	s.t.Helper()
	l, err := lake.Open(s.t.Context(), s.lake)
	if err != nil {
		s.t.Fatal(err)
	}
	w, err := l.Write(s.t.Context(), "test")
	if err != nil {
		s.t.Fatal(err)
	}
	recipe, err := pipeline.LoadRecipe(filepath.Join(s.lake, "config"))
	if err != nil {
		s.t.Fatal(err)
	}
	for i := range paths {
		paths[i] = filepath.Join(s.logs, paths[i])
	}
	done, err := pipeline.Ingest(s.t.Context(), l, w, &recipe, paths, pipeline.Options{})
	if err = errors.Join(err, w.Close(), l.Close()); err != nil {
		s.t.Fatal(err)
	}
	return told(done)
}

// told gives outcomes as lines of status and sources.
func told(done pipeline.Result) []string {
	var lines []string
	for _, o := range done.Outcomes {
		names := strings.Split(o.Source, ", ")
		slices.Sort(names)
		lines = append(lines, o.Status+" "+strings.Join(names, ", "))
	}
	slices.Sort(lines)
	return lines
}

// sources gives the runs as the sources of each, and asks that the lake is sound.
func (s shop) sources() []string {
	s.t.Helper()
	l, err := lake.Open(s.t.Context(), s.lake)
	if err != nil {
		s.t.Fatal(err)
	}
	problems, err := l.Verify(s.t.Context(), lake.Checks{})
	if err != nil || lake.Faults(problems) > 0 {
		s.t.Fatalf("verify: %v, %v", problems, err)
	}
	snap, err := l.Snapshot(s.t.Context())
	if err = errors.Join(err, l.Close()); err != nil {
		s.t.Fatal(err)
	}
	runs := map[string][]string{}
	for _, f := range snap.Files["sources"] {
		rows, err := parquet.ReadFile[struct {
			Run    string `parquet:"run_id,optional"`
			Source string `parquet:"source,optional"`
		}](filepath.Join(snap.Root, f))
		if err != nil {
			s.t.Fatal(err)
		}
		for _, r := range rows {
			runs[r.Run] = append(runs[r.Run], filepath.Base(r.Source))
		}
	}
	var lines []string
	for _, list := range runs {
		slices.Sort(list)
		lines = append(lines, strings.Join(list, "+"))
	}
	slices.Sort(lines)
	return lines
}

func (s shop) want(got []string, want ...string) {
	s.t.Helper()
	if !slices.Equal(got, want) {
		s.t.Errorf("got %q, want %q", got, want)
	}
}

// A log that was ingested alone joins its fellows when a sheet names them as one run, does not come back alone, and parts
// from them only when sheets name all of the run's logs otherwise.
func TestRecordersJoinAndPart(t *testing.T) {
	s := newShop(t)
	for i, name := range []string{"a.csv", "b.csv", "c.csv"} {
		s.log(name, i)
	}
	s.want(s.ingest("a.csv"), "stored a.csv")
	s.write("runs.csv", "files,vehicle\na.csv;b.csv,v\n")
	s.want(s.ingest("."), "retired a.csv", "stored a.csv, b.csv", "stored c.csv")
	s.want(s.sources(), "a.csv+b.csv", "c.csv")
	s.want(s.ingest("."), "unchanged a.csv, b.csv", "unchanged c.csv")

	s.log("elsewhere/again.csv", 0)
	s.want(s.ingest("elsewhere/again.csv"), "unchanged again.csv")
	s.write("elsewhere/runs.csv", "files,vehicle\nagain.csv,other\n")
	s.want(s.ingest("elsewhere"), "unchanged again.csv") // The other log of that run would be lost.
	s.want(s.sources(), "a.csv+b.csv", "c.csv")

	s.write("runs.csv", "files,vehicle\na.csv,v\nb.csv;c.csv,v\n")
	s.want(s.ingest("."), "retired a.csv, b.csv", "retired c.csv", "stored a.csv", "stored b.csv, c.csv")
	s.want(s.sources(), "a.csv", "b.csv+c.csv")
	if _, err := lake.Rebuild(t.Context(), s.lake, "test"); err != nil {
		t.Fatal(err)
	}
	s.want(s.sources(), "a.csv", "b.csv+c.csv")
	s.want(s.ingest("a.csv", "b.csv", "c.csv"), "unchanged a.csv", "unchanged b.csv, c.csv")
}

// However sheets lay logs together, and whatever is ingested in which order, each log is in one run, and a second time
// changes nothing.
func TestEachLogIsInOneRun(t *testing.T) {
	s := newShop(t)
	r := rand.New(rand.NewPCG(3, 9))
	names := []string{"a.csv", "b.csv", "c.csv", "d.csv"}
	seen := map[string]bool{}
	for step := range 25 {
		dir := fmt.Sprintf("folder%d", r.IntN(3))
		rows := "files,vehicle\n"
		for i, name := range names {
			s.log(dir+"/"+name, i)
		}
		for _, i := range r.Perm(len(names))[:r.IntN(3)] {
			rows += names[i] + ";" + names[r.IntN(len(names))] + fmt.Sprintf(",v%d\n", r.IntN(2))
		}
		s.write(dir+"/runs.csv", rows)
		paths := []string{dir}
		if one := r.IntN(len(names)); r.IntN(2) == 0 {
			paths = []string{dir + "/" + names[one]}
		}
		first := s.ingest(slices.Clone(paths)...)
		for _, line := range first {
			for _, name := range names {
				seen[name] = seen[name] || strings.Contains(line, name)
			}
		}
		var found []string
		for _, run := range s.sources() {
			found = append(found, strings.Split(run, "+")...)
		}
		slices.Sort(found)
		var want []string
		for _, name := range names {
			if seen[name] {
				want = append(want, name)
			}
		}
		if !slices.Equal(found, want) {
			t.Fatalf("step %d, %v with sheet %q: the lake has sources %v, want %v\n%v", step, paths, rows, found, want, first)
		}
		for _, line := range s.ingest(slices.Clone(paths)...) {
			if !strings.HasPrefix(line, "unchanged") {
				t.Fatalf("step %d, %v with sheet %q, again: %s", step, paths, rows, line)
			}
		}
	}
}

// A log whose archived bytes are lost is stored again when it comes again; until then its run stays as it is.
func TestLostArchive(t *testing.T) {
	s := newShop(t)
	s.log("a.csv", 1)
	s.ingest(".")
	blobs, err := filepath.Glob(filepath.Join(s.lake, "archive", "*", "*.zst"))
	if err != nil || len(blobs) != 1 {
		t.Fatal(blobs, err)
	}
	if err := os.Remove(blobs[0]); err != nil {
		t.Fatal(err)
	}
	s.want(s.reprocess(), "set aside a.csv")
	s.want(s.ingest("."), "remade a.csv")
	s.want(s.sources(), "a.csv")
	s.want(s.ingest("."), "unchanged a.csv")
}

// reprocess makes all runs again from the archive.
func (s shop) reprocess() []string {
	s.t.Helper()
	l, err := lake.Open(s.t.Context(), s.lake)
	if err != nil {
		s.t.Fatal(err)
	}
	w, err := l.Write(s.t.Context(), "test")
	if err != nil {
		s.t.Fatal(err)
	}
	recipe, err := pipeline.LoadRecipe(filepath.Join(s.lake, "config"))
	if err != nil {
		s.t.Fatal(err)
	}
	done, err := pipeline.Reprocess(s.t.Context(), l, w, &recipe, nil, true, pipeline.Options{})
	if err = errors.Join(err, w.Close(), l.Close()); err != nil {
		s.t.Fatal(err)
	}
	return told(done)
}
