package lake

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"

	"golang.org/x/sys/unix"
)

const lockName = "writer.lock"

// Holder says who writes to a lake.
type Holder struct {
	Host    string    `json:"host"`
	PID     int       `json:"pid"`
	Start   string    `json:"start,omitempty"` // Of the process, as its system tells it: no later process of that id has it too. Empty where it does not tell.
	Since   time.Time `json:"since"`
	Command string    `json:"command"`
}

// String names the holder for people.
func (h Holder) String() string {
	if h.PID == 0 {
		return "another process"
	}
	return fmt.Sprintf("%q (process %d on %s, since %s)", h.Command, h.PID, h.Host, h.Since.UTC().Format(time.RFC3339))
}

// HeldError says that another process writes to the lake.
type HeldError struct {
	Lake   string
	Holder Holder
}

func (e *HeldError) Error() string {
	return fmt.Sprintf("write to lake %s: %s is writing to it: wait until it has ended", e.Lake, e.Holder)
}

// lock is the right to write. The kernel holds it for the open file, and so frees it when the process dies in whatever
// way. The text in the file tells others who it is, and is written anew every beat: where a file system does not pass locks on to other
// hosts, that is how they see that the holder lives. The file is never removed: two processes could else each lock a file of that name.
type lock struct {
	f    *os.File
	text []byte
	left *Holder // A holder that died without letting go.
	stop chan struct{}
	over sync.WaitGroup
}

// Beats of a lock. A holder on another host is dead when it has missed some.
const (
	beat   = 4 * time.Second
	missed = 3
)

// errOver says that the right to write was lost.
var errOver = errors.New("another process has taken over the right to write to the lake, or its lock file was removed: nothing was stored; start again")

// acquire takes the lock, and stops waiting for a silent holder on another host when done is closed.
func acquire(done <-chan struct{}, root string, me Holder) (*lock, error) {
	return acquireWithin(done, root, me, beat)
}

func acquireWithin(done <-chan struct{}, root string, me Holder, beat time.Duration) (*lock, error) {
	f, err := os.OpenFile(filepath.Join(root, lockName), os.O_RDWR|os.O_CREATE, 0o666)
	if err != nil {
		return nil, fmt.Errorf("open the lake's lock: %w", err)
	}
	if err := flock(f); err != nil {
		defer func() { _ = f.Close() }()
		if !errors.Is(err, unix.EWOULDBLOCK) {
			return nil, fmt.Errorf("lock lake %s: %w", root, err)
		}
		return nil, &HeldError{Lake: root, Holder: readHolder(f)}
	}
	l := &lock{f: f, stop: make(chan struct{})}
	if h := readHolder(f); h.PID != 0 {
		l.left = &h
		if alive(done, f, h, me, beat) {
			return nil, errors.Join(&HeldError{Lake: root, Holder: h}, f.Close())
		}
	}
	if l.text, err = json.Marshal(me); err == nil {
		l.text = append(l.text, '\n')
		err = l.write(l.text)
	}
	if err == nil && !l.named() {
		err = errOver
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("name the holder of the lake's lock: %w", err), f.Close())
	}
	l.over.Go(func() { l.live(beat) })
	return l, nil
}

// alive tells whether a holder lives though the system gave us its lock. One on this host does when its process does; one
// on another when it writes its text anew while we look.
func alive(done <-chan struct{}, f *os.File, h, me Holder, beat time.Duration) bool {
	if h.Host == me.Host {
		return h.Start != "" && h.PID != me.PID && started(h.PID) == h.Start
	}
	was, err := f.Stat()
	if err != nil {
		return true
	}
	for range missed * 4 {
		select {
		case <-done:
			return true
		case <-time.After(beat / 4):
		}
		if is, err := f.Stat(); err != nil || !is.ModTime().Equal(was.ModTime()) {
			return true
		}
	}
	return false
}

// live writes the text anew until the lock is let go of or lost.
func (l *lock) live(beat time.Duration) {
	tick := time.NewTicker(beat)
	defer tick.Stop()
	for {
		select {
		case <-l.stop:
			return
		case <-tick.C:
			if l.still() == nil {
				_, _ = l.f.WriteAt(l.text, 0) // The next beat tries again; a commit looks for itself.
			}
		}
	}
}

// still fails when the lock is no longer ours: somebody removed the file, or took a sleeping host for a dead one.
func (l *lock) still() error {
	text, err := io.ReadAll(io.NewSectionReader(l.f, 0, 1<<16))
	if err != nil || !bytes.Equal(text, l.text) || !l.named() {
		return errOver
	}
	return nil
}

// named tells whether the lock's file is the one of that name.
func (l *lock) named() bool {
	ours, err := l.f.Stat()
	if err != nil {
		return false
	}
	there, err := os.Stat(l.f.Name())
	return err == nil && os.SameFile(ours, there)
}

func flock(f *os.File) error {
	for {
		err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
		if !errors.Is(err, unix.EINTR) {
			return err
		}
	}
}

// readHolder reads who holds the lock; a text that is being written or is not ours names nobody.
func readHolder(f *os.File) Holder {
	var h Holder
	text, err := io.ReadAll(io.NewSectionReader(f, 0, 1<<16))
	if err != nil || json.Unmarshal(text, &h) != nil {
		return Holder{}
	}
	return h
}

func (l *lock) write(text []byte) error {
	if err := l.f.Truncate(0); err != nil {
		return err
	}
	_, err := l.f.WriteAt(text, 0)
	return err
}

// release lets go: first the name, then the lock. One that was lost is left to its new holder.
func (l *lock) release() error {
	close(l.stop)
	l.over.Wait()
	if l.still() != nil {
		return l.f.Close()
	}
	return errors.Join(l.write(nil), l.f.Close())
}
