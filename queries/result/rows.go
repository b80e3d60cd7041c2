package result

import (
	"errors"
	"fmt"
	"io"
	"math/big"
	"time"
)

// Kind says of which Go type the values of a column are.
type Kind uint8

// The kinds of columns.
const (
	Text    Kind = iota // string
	Bool                // bool
	Int                 // int64
	Big                 // *big.Int, of at most 38 digits
	Float32             // float32
	Float64             // float64
	Decimal             // Fixed, with the column's Scale
	Time                // time.Time, an instant
	Date                // Day
	Bytes               // []byte
	Nested              // []any or map[string]any of the other kinds' types
)

// Column is a column of an answer.
type Column struct {
	Name  string
	Kind  Kind
	Scale int // Digits after the point of a Decimal.
}

// Fixed is a decimal number: Unscaled times ten to the power of -Scale.
type Fixed struct {
	Unscaled *big.Int
	Scale    int
}

// String writes the number with all of its digits after the point.
func (f Fixed) String() string {
	s := new(big.Int).Abs(f.Unscaled).String()
	if f.Scale > 0 {
		for len(s) <= f.Scale {
			s = "0" + s
		}
		s = s[:len(s)-f.Scale] + "." + s[len(s)-f.Scale:]
	}
	if f.Unscaled.Sign() < 0 {
		return "-" + s
	}
	return s
}

// Day is a calendar day, midnight UTC.
type Day struct{ time.Time }

// String writes the day as 2026-03-31.
func (d Day) String() string { return d.Format(time.DateOnly) }

// Float64 gives the nearest float.
func (f Fixed) Float64() float64 {
	r := new(big.Rat).SetFrac(f.Unscaled, new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(f.Scale)), nil))
	x, _ := r.Float64()
	return x
}

// Source gives rows one after the other. Next fills dst, one value a column, and answers io.EOF after the last row.
type Source interface {
	Next(dst []any) error
	Close() error
}

// Rows is an answer that is pulled row by row, once. Close it when done; it may be closed twice.
type Rows struct {
	columns []Column
	source  Source
	row     []any
	err     error
	closed  bool
}

// New makes rows of a source, which they own from then on.
func New(columns []Column, source Source) *Rows {
	return &Rows{columns: columns, source: source, row: make([]any, len(columns))}
}

// Of makes rows of values held in memory.
func Of(columns []Column, values [][]any) *Rows { return New(columns, &held{values: values}) }

// Columns tells the columns, in order.
func (r *Rows) Columns() []Column { return r.columns }

// Names tells the columns' names, in order.
func (r *Rows) Names() []string {
	names := make([]string, len(r.columns))
	for i, c := range r.columns {
		names[i] = c.Name
	}
	return names
}

// Next moves on to the next row; it is false after the last one and after an error.
func (r *Rows) Next() bool {
	if r.err != nil || r.closed {
		return false
	}
	if err := r.source.Next(r.row); err != nil {
		r.err = err
		return false
	}
	return true
}

// Row is the current row, nil for NULL. The slice is overwritten by the next call of Next; the values in it are not.
func (r *Rows) Row() []any { return r.row }

// Err is what stopped Next, nil after the last row.
func (r *Rows) Err() error {
	if errors.Is(r.err, io.EOF) {
		return nil
	}
	return r.err
}

// Close frees what the rows hold.
func (r *Rows) Close() error {
	if r.closed {
		return nil
	}
	r.closed = true
	return r.source.Close()
}

// All reads every row that is left and closes the rows: for answers that are known to be small.
func (r *Rows) All() ([][]any, error) {
	var all [][]any
	for r.Next() {
		all = append(all, append([]any(nil), r.row...))
	}
	return all, errors.Join(r.Err(), r.Close())
}

type held struct {
	values [][]any
	at     int
}

func (h *held) Next(dst []any) error {
	if h.at == len(h.values) {
		return io.EOF
	}
	if len(h.values[h.at]) != len(dst) {
		return fmt.Errorf("read row %d: it has %d values for %d columns", h.at+1, len(h.values[h.at]), len(dst))
	}
	copy(dst, h.values[h.at])
	h.at++
	return nil
}

func (h *held) Close() error { return nil }
