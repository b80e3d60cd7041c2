package lake

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"dynolake/pipeline/disk"
)

// watch is a clock that can be set, beside the count since the system's start, which cannot.
type watch struct {
	boot string
	up   time.Duration
	set  time.Duration // How far the clock is off.
}

func (w *watch) now() time.Time                  { return noon.Add(w.up + w.set) }
func (w *watch) uptime() (string, time.Duration) { return w.boot, w.up }

// restart starts the system anew.
func (w *watch) restart(boot string) { w.boot, w.set, w.up = boot, w.set+w.up, 0 }

func watched(t *testing.T) (*Lake, *watch) {
	t.Helper()
	w := &watch{boot: "first"}
	return newTestLake(t, WithClock(w.now), WithUptime(w.uptime), WithGrace(time.Hour)), w
}

const year = 365 * 24 * time.Hour

// Superseded files stay for the grace period of real time and no longer, however the clock is set meanwhile.
func TestSupersededFilesKeepTheirAgeWhenTheClockIsSet(t *testing.T) {
	for _, c := range []struct {
		name          string
		before, after func(*watch) // What happens to the clock before and after the files are superseded.
		early, late   time.Duration
	}{
		{"right", nil, nil, 59 * time.Minute, 2 * time.Minute},
		{"set ahead", nil, func(w *watch) { w.set = year }, 30 * time.Minute, 31 * time.Minute},
		{"set back", nil, func(w *watch) { w.set = -year }, 30 * time.Minute, 31 * time.Minute},
		{"started in 1970 and set by a time server", func(w *watch) { w.set = -56 * year }, func(w *watch) { w.set = 0 }, 30 * time.Minute, 31 * time.Minute},
		{"started anew with the clock behind", nil, func(w *watch) { w.set = -year; w.restart("second") }, 30 * time.Minute, 61 * time.Minute},
		{"was ahead, started anew", func(w *watch) { w.set = year }, func(w *watch) { w.set = 0; w.restart("second") }, 30 * time.Minute, 61 * time.Minute},
		{"the system tells no start", func(w *watch) { w.boot, w.set = "", year }, func(w *watch) { w.set = 0 }, 30 * time.Minute, 61 * time.Minute},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, w := watched(t)
			if c.before != nil {
				c.before(w)
			}
			commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a")}})
			old := snapshot(t, l)
			commitAll(t, l, Batch{Runs: []Entry{entry(1, 25, "b")}})
			if c.after != nil {
				c.after(w)
			}
			left := func() (n int) {
				for _, list := range old.Files {
					for _, f := range list {
						if _, err := os.Stat(filepath.Join(old.Root, f)); err == nil {
							n++
						}
					}
				}
				return n
			}
			all := left()
			commitAll(t, l, Batch{Runs: []Entry{entry(2, 20, "a")}})
			w.up += c.early
			commitAll(t, l, Batch{Runs: []Entry{entry(3, 20, "a")}})
			if n := left(); n != all || n == 0 {
				t.Errorf("%d of %d files of a snapshot in use are left", n, all)
			}
			w.up += c.late
			commitAll(t, l, Batch{Runs: []Entry{entry(4, 20, "a")}})
			if n := left(); n != 0 {
				t.Errorf("%d superseded files are left for good", n)
			}
			spotless(t, l)
			rebuilt(t, l)
		})
	}
}

// Snapshots follow each other by their numbers, whatever the clock says, and each is all of the runs before it.
func TestSnapshotsFollowByNumber(t *testing.T) {
	l, w := watched(t)
	for i, set := range []time.Duration{0, -year, year, -2 * year} {
		w.set = set
		commitAll(t, l, Batch{Runs: []Entry{entry(uint64(i), 20, "a")}})
		if s := snapshot(t, l); s.ID != int64(i+1) || len(s.Files["samples"]) != i+1 {
			t.Errorf("snapshot %d with %d runs, want %d", s.ID, len(s.Files["samples"]), i+1)
		}
	}
	clean(t, l)
	rebuilt(t, l)
}

// A rebuild takes the commit that took place for it, though one of its number was interrupted while the clock was ahead.
func TestRebuildWithAnInterruptedCommitOfTheFuture(t *testing.T) {
	l := newTestLake(t)
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a")}})
	failLast(t, l, Batch{Runs: []Entry{entry(1, 22, "lost"), entry(3, 20, "lost")}})
	l.clock = func() time.Time { return noon.Add(-year) }
	commitAll(t, l, Batch{Runs: []Entry{entry(2, 24, "b"), entry(3, 21, "b")}}) // The bytes of 3 were archived.
	want, rows := catalogueText(t, l), dump(t, l)
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if problems, err := Rebuild(t.Context(), l.root, "test"); err != nil || Faults(problems) > 0 {
		t.Fatalf("%v, %v", problems, err)
	}
	again := open(t, l.root)
	if d := cmp.Diff(want, catalogueText(t, again)); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(rows, dump(t, again)); d != "" {
		t.Error(d)
	}
}

// A report that is under way while the clock goes ahead keeps its temporary file; one that was left behind goes.
func TestALiveTemporaryOutlivesAClockThatGoesAhead(t *testing.T) {
	for _, ahead := range []bool{true, false} {
		l := newTestLake(t, WithGrace(time.Hour))
		w := &watch{boot: "first"}
		l.clock, l.uptime = w.now, w.uptime
		commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a")}})
		temp := filepath.Join(l.root, "reports", disk.TempPrefix+"report")
		if err := os.WriteFile(temp, []byte("half"), 0o600); err != nil {
			t.Fatal(err)
		}
		written := time.Now().Add(-90 * time.Minute) // As the clock now has it.
		if err := os.Chtimes(temp, written, written); err != nil {
			t.Fatal(err)
		}
		if w.up = 90 * time.Minute; ahead {
			w.up, w.set = time.Second, 90*time.Minute
		}
		commitAll(t, l, Batch{Runs: []Entry{entry(2, 20, "a")}})
		if _, err := os.Stat(temp); (err == nil) != ahead {
			t.Errorf("clock set ahead %t: %v", ahead, err)
		}
	}
}

// The running system names its start, and its count goes on.
func TestRunning(t *testing.T) {
	boot, up := running()
	again, later := running()
	if boot == "" || boot != again || up <= 0 || later < up {
		t.Errorf("%q %v, then %q %v", boot, up, again, later)
	}
}
