package lake

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/sys/unix"
)

const lockName = "writer.lock"

// Holder says who writes to a lake.
type Holder struct {
	Host    string    `json:"host"`
	PID     int       `json:"pid"`
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
// way; the text in the file only tells others who it is. The file is never removed: two processes could else each lock
// a file of that name.
type lock struct {
	f    *os.File
	left *Holder // A holder that died without letting go.
}

func acquire(root string, me Holder) (*lock, error) {
	f, err := os.OpenFile(filepath.Join(root, lockName), os.O_RDWR|os.O_CREATE, 0o644)
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
	l := &lock{f: f}
	if h := readHolder(f); h.PID != 0 {
		l.left = &h
	}
	text, err := json.Marshal(me)
	if err == nil {
		err = l.write(append(text, '\n'))
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("name the holder of the lake's lock: %w", err), f.Close())
	}
	return l, nil
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

// release lets go: first the name, then the lock.
func (l *lock) release() error {
	return errors.Join(l.write(nil), l.f.Close())
}
