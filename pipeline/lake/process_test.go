package lake

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/sync/errgroup"
)

// TestMain lets the test binary stand in for another process that writes to a lake.
func TestMain(m *testing.M) {
	if dir := os.Getenv("LAKE_TEST_WRITER"); dir != "" {
		if err := otherWriter(context.Background(), dir, os.Getenv("LAKE_TEST_GENERATION")); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// otherWriter commits runs without end, replacing them generation by generation and retiring one now and then, until it is killed.
func otherWriter(ctx context.Context, dir, generation string) error {
	l, err := Open(ctx, dir)
	if err != nil {
		return err
	}
	w, err := l.Write(ctx, "other writer")
	if err != nil {
		return err
	}
	fmt.Println("writing")
	for i := 0; ; i++ {
		var b Batch
		for seed := range uint64(3) {
			b.Runs = append(b.Runs, entry(seed+uint64(i%2)*2, 40, generation+"-"+strconv.Itoa(i)))
		}
		if i%2 == 1 {
			b.Retire = []string{entry(0, 2, "").Run.ID}
		}
		if err := archiveAndCommit(ctx, w, b); err != nil {
			return err
		}
		fmt.Println("committed")
	}
}

// startWriter starts the other process and waits until it has the lock.
func startWriter(t *testing.T, dir, generation string) (*exec.Cmd, *bufio.Reader) {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), "LAKE_TEST_WRITER="+dir, "LAKE_TEST_GENERATION="+generation)
	c.Stderr = os.Stderr
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	says := bufio.NewReader(out)
	await(t, says, "writing")
	return c, says
}

// await reads the next line of the other process.
func await(t *testing.T, says *bufio.Reader, want string) {
	t.Helper()
	if line, err := says.ReadString('\n'); err != nil || line != want+"\n" {
		t.Fatalf("the other writer says %q, %v, want %q", line, err, want)
	}
}

func kill(c *exec.Cmd) {
	_ = c.Process.Kill()
	_ = c.Wait() // It was killed, which is no success.
}

func TestLockNamesItsHolderAndOutlivesNobody(t *testing.T) {
	l := newTestLake(t)
	c, _ := startWriter(t, l.root, "a")
	_, err := l.Write(t.Context(), "night job")
	var held *HeldError
	if !errors.As(err, &held) {
		t.Fatalf("while another process writes: %v", err)
	}
	host, _ := os.Hostname()
	if h := held.Holder; h.PID != c.Process.Pid || h.Host != host || h.Command != "other writer" || time.Since(h.Since) > time.Minute {
		t.Errorf("holder %+v", h)
	}
	if !strings.Contains(err.Error(), strconv.Itoa(c.Process.Pid)) || !strings.Contains(err.Error(), "other writer") {
		t.Errorf("the error does not name the holder: %v", err)
	}
	if _, err := l.Snapshot(t.Context()); err != nil {
		t.Errorf("a reader beside a writer: %v", err)
	}
	pid := c.Process.Pid
	kill(c)
	w, err := l.Write(t.Context(), "night job")
	if err != nil {
		t.Fatalf("after the holder was killed: %v", err)
	}
	if left, ok := w.Left(); !ok || left.PID != pid {
		t.Errorf("the dead holder: %+v, %v", left, ok)
	}
	if _, err := l.Write(t.Context(), "second"); !errors.As(err, &held) || held.Holder.Command != "night job" {
		t.Errorf("two writers in one process: %v", err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	w, err = l.Write(t.Context(), "third")
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := w.Left(); ok {
		t.Error("a holder that let go counts as dead")
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// A writer that is killed at any moment leaves a sound lake in which each run is whole, and the next one goes on.
func TestKilledWriter(t *testing.T) {
	l := newTestLake(t)
	r := rand.New(rand.NewPCG(uint64(os.Getpid()), 1))
	commits, begun := int64(0), int64(0)
	for round := range 8 {
		begun = commits
		c, says := startWriter(t, l.root, strconv.Itoa(round))
		for range 1 + round%2 {
			await(t, says, "committed")
		}
		time.Sleep(time.Duration(r.IntN(60)) * time.Millisecond)
		kill(c)
		clean(t, l)
		if id := snapshot(t, l).ID; id <= commits {
			t.Errorf("%d commits after round %d, had %d before: a commit was lost", id, round, commits)
		} else {
			commits = id
		}
	}
	before := dump(t, l)
	root := l.root
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if problems, err := Rebuild(t.Context(), root, "test"); err != nil || Faults(problems) > 0 {
		t.Errorf("rebuild: %v, %v", problems, err)
	}
	l = open(t, root)
	clean(t, l)
	after := dump(t, l)
	want := runIDs(before)
	switch id := snapshot(t, l).ID; id {
	case commits:
	case commits + 1: // Killed between a commit's last file and its entry in the catalogue: the files say that it was done.
		want = afterCommit(want, int(commits-begun))
	default:
		t.Errorf("snapshot %d after a rebuild, had %d", id, commits)
	}
	if d := cmp.Diff(want, runIDs(after)); d != "" {
		t.Errorf("runs after a rebuild: %s", d)
	}
	if n := len(after["samples"]); n != 40*len(want) {
		t.Errorf("the rebuilt lake has %d rows of %d runs of 40", n, len(want))
	}
}

// afterCommit gives the runs that there are after the other writer's i-th commit.
func afterCommit(ids []string, i int) []string {
	for seed := range uint64(3) {
		ids = append(ids, entry(seed+uint64(i%2)*2, 2, "").Run.ID)
	}
	slices.Sort(ids)
	ids = slices.Compact(ids)
	if i%2 == 1 {
		retired := entry(0, 2, "").Run.ID
		ids = slices.DeleteFunc(ids, func(id string) bool { return id == retired })
	}
	return ids
}

func runIDs(rows map[string][]string) []string {
	var ids []string
	for _, line := range rows["runs"] {
		ids = append(ids, line[:16])
	}
	return ids
}

// Readers beside a writer that replaces runs see, in every snapshot, each run once and whole.
func TestReadersBesideAWriter(t *testing.T) {
	l := newTestLake(t)
	var b Batch
	for seed := range uint64(4) {
		b.Runs = append(b.Runs, entry(seed, 50, "0"))
	}
	commitAll(t, l, b)
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	var work errgroup.Group
	reads := make([]int, 2)
	for i := range reads {
		db := duck(t)
		work.Go(func() error {
			for ctx.Err() == nil {
				s, err := l.Snapshot(t.Context())
				if err != nil {
					return err
				}
				samples, _ := duckTable(s, tableOf("samples"))
				runs, _ := duckTable(s, tableOf("runs"))
				segments, _ := duckTable(s, tableOf("segments"))
				var wrong, n int
				err = db.QueryRow(fmt.Sprintf(`SELECT count(*) FILTER (WHERE r.n <> 1 OR s.n IS DISTINCT FROM r.want OR g.n IS DISTINCT FROM 3), count(*)
					FROM (SELECT run_id, count(*) AS n, max("rows") AS want FROM %s GROUP BY run_id) AS r
					LEFT JOIN (SELECT run_id, count(*) AS n FROM %s GROUP BY run_id) AS s USING (run_id)
					LEFT JOIN (SELECT run_id, count(*) AS n FROM %s GROUP BY run_id) AS g USING (run_id)`, runs, samples, segments)).Scan(&wrong, &n)
				if err != nil || wrong > 0 || n != 4 {
					return fmt.Errorf("snapshot %d: %d of %d runs are not whole: %w", s.ID, wrong, n, errors.Join(err, errWrong))
				}
				reads[i]++
			}
			return nil
		})
	}
	work.Go(func() error {
		w, err := l.Write(t.Context(), "test")
		if err != nil {
			return err
		}
		defer stop()
		for i := 1; i <= 12 && ctx.Err() == nil; i++ {
			seed := uint64(i % 4)
			if err := w.Commit(t.Context(), Batch{Runs: []Entry{entry(seed, 50+i%9, strconv.Itoa(i))}}); err != nil {
				return err
			}
		}
		return w.Close()
	})
	if err := work.Wait(); err != nil {
		t.Error(err)
	}
	if reads[0] < 3 || reads[1] < 3 || snapshot(t, l).ID < 12 {
		t.Errorf("%v reads and %d commits prove nothing", reads, snapshot(t, l).ID)
	}
}

var errWrong = errors.New("wrong count")
