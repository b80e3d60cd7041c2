package schema

import (
	"bytes"
	"context"
	"errors"
	"io"
	"time"
)

// Source is one log to be read: bytes that can be opened more than once.
type Source struct {
	Name string // The file's name as given; members and sheets as a.zip/b.csv and book.xlsx#Sheet.
	Size int64  // Bytes, or -1 when not known.
	Open func() (io.ReadCloser, error)
	Via  string // The form of what holds it, such as workbook, where the bytes were made from a member of it; empty otherwise.

	// Mend gives what can be had of a packed text that breaks off, with a finding that says so, or the reason why nothing can. It
	// is nil for what is not packed.
	Mend func(context.Context) (Source, []Finding, error)
}

// At is what a source opens to be read in any order.
type At interface {
	io.ReaderAt
	io.Closer
}

// OpenAt opens the source for reading in any order, and says how long it is. What Open gives is used where it is an io.ReaderAt
// of a known size; else all of it is held in memory, so that whoever hands out large sources makes them such.
func (s Source) OpenAt() (At, int64, error) {
	f, err := s.Open()
	if err != nil {
		return nil, 0, err
	}
	if at, ok := f.(At); ok && s.Size >= 0 {
		return at, s.Size, nil
	}
	data, err := io.ReadAll(f)
	if err := errors.Join(err, f.Close()); err != nil {
		return nil, 0, err
	}
	return held{bytes.NewReader(data)}, int64(len(data)), nil
}

type held struct{ *bytes.Reader }

func (held) Close() error { return nil }

// Clock says how a group's time is counted.
type Clock struct {
	Name  string    // The time channel's header text.
	Unit  string    // Its unit as written, or how it was read: s, ms, m:s, time of day, date and time.
	Start time.Time // The instant of t = 0; zero when the log gives no date. Without a zone it is written as if UTC.
	Zoned bool      // Start carries a zone, so it is an instant; else it is local wall-clock time.
	Step  float64   // Seconds a clock tick, 0 when not known: rows on one stamp are told from a coarse clock by it.
}

// Channel is one logged channel as the source names it.
type Channel struct {
	Name    string
	Unit    string // As written; empty when none was given.
	Comment string
}

// Group is the channels of a source that share one clock.
type Group struct {
	Name     string // Empty when the source has a single clock.
	Clock    Clock
	Channels []Channel
}

// Text is a cell that holds no number: a state's name, ERROR, a note.
type Text struct {
	Row, Channel int // Indices into the batch's T and Values.
	Text         string
}

// Batch is consecutive rows of one group. T is in seconds on the recorder's own clock; Values has one slice a channel,
// NaN where nothing or a text was logged. The slices belong to the reader and are overwritten after the call.
type Batch struct {
	T      []float64
	Values [][]float64
	Texts  []Text
}

// Sink takes what a reader finds, in the order of the bytes.
type Sink interface {
	// Group declares channels that share a clock and returns the handle for Rows.
	Group(Group) (int, error)
	// Rows appends a batch to a declared group.
	Rows(group int, b Batch) error
	// Restart says that the recorder began anew: rows after it belong to the next part, in the same groups.
	Restart() error
	// Note keeps what is no channel: a preamble line as ("", line), a key and value as (key, value).
	Note(key, text string)
	// Find records a repair, a doubt or an oddity.
	Find(Finding)
}

// Series is one group held whole.
type Series struct {
	Group
	T      []float64
	Values [][]float64
	Texts  []Text // Rows count from the start of T.
}

// Log is one part of a source, held whole: what a reader found, nothing interpreted.
type Log struct {
	Source   string
	Form     string
	Part     int // 0, or the count of restarts before it.
	Notes    [][2]string
	Findings []Finding
	Series   []Series
}
