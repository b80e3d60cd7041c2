package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"dynolake/pipeline/lake"
	"dynolake/queries/engine"
)

// rounds is how often a command is killed; DYNOLAKE_KILLS says otherwise.
func rounds(t *testing.T) int {
	text := os.Getenv("DYNOLAKE_KILLS")
	if text == "" {
		return 9
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// stay is how many rounds one lake stands; it grows with each.
const stay = 24

// siege is a lake that is written to by commands that are killed, and read meanwhile.
type siege struct {
	root    string
	logs    string
	runs    atomic.Int64 // That the lake has had.
	most    atomic.Int64 // That it can have: logs that were given.
	pending []string     // Folders of logs whose ingest was killed.
	took    map[string]time.Duration
	*score
}

// score is what came of all rounds.
type score struct {
	reads  atomic.Int64
	kills  atomic.Int64 // Processes that were killed before they had ended.
	lived  int64        // Runs in all lakes at their ends.
	random *rand.Rand
}

// Commands that write are killed at random moments, with readers beside them. No run is lost, each read finds whole runs, none fewer than
// before, and after each kill the lake is sound; what was killed ends well when it is done once more.
func TestKills(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	all := &score{random: rand.New(rand.NewPCG(seed, 7))}
	n, took, begun := rounds(t), map[string]time.Duration{}, time.Now()
	for done := 0; done < n && !t.Failed(); done += stay {
		besiege(t, all, took, min(stay, n-done))
	}
	if all.reads.Load() == 0 || all.kills.Load() < int64(n)/4 {
		t.Errorf("%d reads and %d kills prove nothing", all.reads.Load(), all.kills.Load())
	}
	t.Logf("seed %d: %d rounds in %v: %d processes killed at work, %d ended before; %d runs, none lost; %d reads, none wrong or failed; a verify after each round, all sound",
		seed, n, time.Since(begun).Round(time.Second), all.kills.Load(), int64(n)-all.kills.Load(), all.lived, all.reads.Load())
}

func besiege(t *testing.T, all *score, took map[string]time.Duration, n int) {
	t.Helper()
	dir := t.TempDir()
	tinyLake(t, dir)
	s := &siege{root: filepath.Join(dir, "lake"), logs: filepath.Join(dir, "logs"), took: took, score: all}
	s.runs.Store(2)
	s.most.Store(2)
	ctx, stop := context.WithCancel(t.Context())
	var readers sync.WaitGroup
	for range 2 {
		readers.Go(func() { s.read(ctx, t) })
	}
	for i := range n {
		if !t.Failed() {
			s.round(t, []string{"ingest", "refresh", "compact"}[i%3], i)
		}
		if i%8 == 7 || i == n-1 {
			s.finish(t)
		}
	}
	stop()
	readers.Wait()
	must(t, "verify", "--lake", s.root)
	all.lived += s.runs.Load()
	if err := os.RemoveAll(dir); err != nil {
		t.Error(err)
	}
}

// round gives the lake something to do, kills it while it does and looks at what is left.
func (s *siege) round(t *testing.T, command string, i int) {
	t.Helper()
	args := []string{command, "--lake", s.root}
	at := ""
	switch command {
	case "ingest":
		at = filepath.Join(s.logs, strconv.Itoa(i))
		args = append(args, at)
		s.pending = append(s.pending, at)
	case "refresh":
		at = filepath.Join(s.root, "inbox")
	}
	if at != "" {
		putText(t, filepath.Join(at, fmt.Sprintf("pull-%d.csv", i)), pullLog(i+10))
		s.most.Add(1)
	}
	took := s.took[command]
	if took == 0 {
		took = time.Second
	}
	if s.kill(t, args, time.Duration(s.random.Int64N(int64(took)))) {
		s.kills.Add(1)
	}
	s.sound(t, fmt.Sprintf("round %d, %s killed", i, command))
}

// finish does what was killed once more, to its end.
func (s *siege) finish(t *testing.T) {
	t.Helper()
	commands := [][]string{{"refresh"}, {"compact"}}
	for _, at := range s.pending {
		commands = append(commands, []string{"ingest", at})
	}
	s.pending = nil
	for _, args := range commands {
		begun := time.Now()
		var said bytes.Buffer
		c := exec.CommandContext(t.Context(), "dynolake", append(args, "--lake", s.root)...)
		c.Stderr = &said
		if err := c.Run(); err != nil {
			t.Errorf("%q once more: %v: %s", args, err, said.String())
		}
		s.took[args[0]] = (s.took[args[0]] + time.Since(begun)) / 2
	}
	if got, err := s.count(t.Context()); err != nil || got != s.most.Load() {
		t.Errorf("after all ended the lake has %d runs, want %d, %v", got, s.most.Load(), err)
	}
	s.runs.Store(s.most.Load())
}

// kill runs the program in a process of its own and kills it; it reports whether it was still at work.
func (s *siege) kill(t *testing.T, args []string, after time.Duration) bool {
	t.Helper()
	c := exec.CommandContext(t.Context(), "dynolake", args...)
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(after)
	_ = c.Process.Kill() // It may have ended.
	_ = c.Wait()         // It says that it was killed.
	return !c.ProcessState.Exited()
}

// sound verifies the lake and that it has every run that a command which ended well had stored.
func (s *siege) sound(t *testing.T, when string) {
	t.Helper()
	l, err := lake.Open(t.Context(), s.root)
	if err != nil {
		t.Fatalf("%s: %v", when, err)
	}
	defer func() { _ = l.Close() }()
	problems, err := l.Verify(t.Context(), lake.Checks{})
	if err != nil || lake.Faults(problems) > 0 {
		t.Errorf("%s: verify: %v, %v", when, problems, err)
	}
	n, err := s.count(t.Context())
	if err != nil || n < s.runs.Load() {
		t.Errorf("%s: %d runs, had %d: %v", when, n, s.runs.Load(), err)
	}
	s.runs.Store(n) // What was stored once is never lost.
}

// read asks the lake again and again until it is stopped.
func (s *siege) read(ctx context.Context, t *testing.T) {
	for ctx.Err() == nil {
		had := s.runs.Load()
		n, err := s.count(ctx)
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			t.Errorf("read %d failed: %v", s.reads.Load(), err)
		case n < had || n > s.most.Load():
			t.Errorf("read %d found %d runs, want %d to %d", s.reads.Load(), n, had, s.most.Load())
		}
		s.reads.Add(1)
		time.Sleep(100 * time.Millisecond) // The writers need the processor too.
	}
}

// count gives the number of runs, of which each must have its rows, its pull and its curves.
func (s *siege) count(ctx context.Context) (n int64, err error) {
	l, err := lake.Open(ctx, s.root)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	snap, err := l.Snapshot(ctx)
	if err != nil {
		return 0, err
	}
	e, err := engine.Open(ctx, snap, engine.Options{Threads: 1})
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, e.Close()) }()
	rows, err := e.Query(ctx, strings.Join([]string{
		"SELECT count(*), count(*) FILTER (WHERE s.n IS DISTINCT FROM 90 OR p.n IS DISTINCT FROM 1 OR c.n IS NULL OR o.n IS DISTINCT FROM 1) FROM runs r",
		"LEFT JOIN (SELECT run_id, count(*) AS n FROM samples GROUP BY run_id) s USING (run_id)",
		"LEFT JOIN (SELECT run_id, count(*) AS n FROM segments WHERE kind = 'pull' GROUP BY run_id) p USING (run_id)",
		"LEFT JOIN (SELECT run_id, count(*) AS n FROM curves GROUP BY run_id) c USING (run_id)",
		"LEFT JOIN (SELECT run_id, count(*) AS n FROM sources GROUP BY run_id) o USING (run_id)"}, " "))
	if err != nil {
		return 0, err
	}
	all, err := rows.All()
	if err != nil {
		return 0, err
	}
	if wrong, _ := all[0][1].(int64); wrong > 0 {
		return 0, fmt.Errorf("snapshot %d: %d of %v runs are not whole", snap.ID, wrong, all[0][0])
	}
	n, _ = all[0][0].(int64)
	return n, nil
}
