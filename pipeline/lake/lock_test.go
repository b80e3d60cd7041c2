package lake

import (
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// leave writes the text of a holder that no longer has the kernel's lock, or never had it with us.
func leave(t *testing.T, root string, h Holder) string {
	t.Helper()
	text, err := json.Marshal(h)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(root, lockName)
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// A text in the lock whose kernel lock is free: its holder is dead, or on a host whose locks do not reach us. Only the living hold it.
func TestLeftLocks(t *testing.T) {
	ours := me(noon, "test")
	other := exec.Command("sleep", "60")
	if err := other.Start(); err != nil {
		t.Fatal(err)
	}
	defer kill(other)
	pid := other.Process.Pid
	for _, c := range []struct {
		name string
		left Holder
		held bool
	}{
		{"a process that is no more", Holder{Host: ours.Host, PID: 1 << 30, Start: ours.Start, Command: "x"}, false},
		{"a process of the same id that began later", Holder{Host: ours.Host, PID: pid, Start: "another boot/1", Command: "x"}, false},
		{"a process that lives", Holder{Host: ours.Host, PID: pid, Start: started(pid), Command: "x"}, true},
		{"this process, which let go of it", Holder{Host: ours.Host, PID: ours.PID, Start: ours.Start, Command: "x"}, false},
		{"a silent one on another host", Holder{Host: "bench-2", PID: pid, Command: "x"}, false},
	} {
		root := t.TempDir()
		leave(t, root, c.left)
		l, err := acquireWithin(nil, root, ours, 20*time.Millisecond)
		var held *HeldError
		if c.held != errors.As(err, &held) || !c.held && err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if c.held {
			if held.Holder.PID != c.left.PID {
				t.Errorf("%s: held by %s", c.name, held.Holder)
			}
			continue
		}
		if l.left == nil || l.left.Host != c.left.Host || l.left.PID != c.left.PID {
			t.Errorf("%s: taken over from %v", c.name, l.left)
		}
		if err := l.release(); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// A holder on another host that beats is never broken, and waiting for it can be interrupted.
func TestHolderOnAnotherHost(t *testing.T) {
	root := t.TempDir()
	path := leave(t, root, Holder{Host: "bench-2", PID: 7, Command: "dynolake refresh"})
	stop := make(chan struct{})
	defer close(stop)
	go func() {
		for i := 1; ; i++ {
			select {
			case <-stop:
				return
			case <-time.After(10 * time.Millisecond):
				at := time.Now().Add(time.Duration(i) * time.Second) // Its clock may be any.
				_ = os.Chtimes(path, at, at)
			}
		}
	}()
	_, err := acquireWithin(nil, root, me(noon, "test"), 200*time.Millisecond)
	var held *HeldError
	if !errors.As(err, &held) || !strings.Contains(err.Error(), "process 7 on bench-2") {
		t.Errorf("%v", err)
	}
	quiet := t.TempDir()
	leave(t, quiet, Holder{Host: "bench-2", PID: 7})
	done := make(chan struct{})
	close(done)
	if _, err := acquireWithin(done, quiet, me(noon, "test"), time.Hour); !errors.As(err, &held) {
		t.Errorf("an interrupted wait: %v", err)
	}
}

// A holder writes its text anew, so that other hosts see it.
func TestLockBeats(t *testing.T) {
	root := t.TempDir()
	l, err := acquireWithin(nil, root, me(noon, "test"), 10*time.Millisecond)
	if err != nil {
		t.Fatal(err)
	}
	first, err := l.f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	for deadline := time.Now().Add(20 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		if is, err := l.f.Stat(); err != nil || time.Now().After(deadline) {
			t.Fatalf("it does not beat: %v", err)
		} else if is.ModTime().After(first.ModTime()) {
			break
		}
	}
	if err := l.release(); err != nil {
		t.Fatal(err)
	}
	if text, err := os.ReadFile(filepath.Join(root, lockName)); err != nil || len(text) > 0 {
		t.Errorf("after release the lock says %q, %v", text, err)
	}
}

// A writer whose lock file was removed, or was taken over while its host slept, stores nothing more and leaves the new
// holder's text alone.
func TestLostLockStoresNothing(t *testing.T) {
	for name, lose := range map[string]func(path string) error{
		"removed": os.Remove,
		"taken over": func(path string) error {
			return os.WriteFile(path, []byte(`{"host":"bench-2","pid":7}`), 0o644)
		},
	} {
		l := newTestLake(t)
		commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a")}})
		w, err := l.Write(t.Context(), "sleeper")
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(l.root, lockName)
		if err := lose(path); err != nil {
			t.Fatal(err)
		}
		was, before := snapshot(t, l), ""
		if text, err := os.ReadFile(path); err == nil {
			before = string(text)
		}
		if err := archiveAndCommit(t.Context(), w, Batch{Runs: []Entry{entry(2, 20, "a")}}); !errors.Is(err, errOver) {
			t.Errorf("%s: %v", name, err)
		}
		if err := w.Close(); err != nil {
			t.Errorf("%s: close: %v", name, err)
		}
		if is := snapshot(t, l); is.ID != was.ID {
			t.Errorf("%s: snapshot %d, want %d", name, is.ID, was.ID)
		}
		if text, _ := os.ReadFile(path); string(text) != before {
			t.Errorf("%s: the lock says %q, want %q", name, text, before)
		}
		if name == "taken over" {
			if err := os.Remove(path); err != nil {
				t.Fatal(err)
			}
		}
		clean(t, l)
		commitAll(t, l, Batch{Runs: []Entry{entry(2, 20, "a")}})
	}
}
