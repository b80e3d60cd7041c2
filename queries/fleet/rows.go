package fleet

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"

	"dynolake/queries/result"
)

// rows reads an engine's answer as rows of the kinds that the lake's own engine gives.
type rows struct {
	from    io.ReadCloser
	lines   *bufio.Reader
	columns []result.Column
	last    func() error // Looks at the end of the answer whether it was whole.
	done    func() error
	n       int
}

// newRows reads the answer's first two lines and holds them to the columns expected.
func newRows(from io.ReadCloser, columns []result.Column) (*rows, error) {
	r := &rows{from: from, lines: bufio.NewReaderSize(from, 64<<10), columns: columns}
	for range 2 {
		line, err := r.line()
		if errors.Is(err, io.EOF) {
			return nil, errors.New("read the engine's answer: it ends before its columns are named")
		}
		if err != nil {
			return nil, err
		}
		if got := strings.Count(line, "\t") + 1; got != len(columns) {
			return nil, fmt.Errorf("read the engine's answer: it has %d columns, want %d", got, len(columns))
		}
	}
	return r, nil
}

// line reads a line without its end; io.EOF when there is none.
func (r *rows) line() (string, error) {
	line, err := r.lines.ReadString('\n')
	if errors.Is(err, io.EOF) && line != "" {
		return "", errors.New("read the engine's answer: it is cut off")
	}
	return strings.TrimSuffix(line, "\n"), err
}

// Next fills dst with the values of a row.
func (r *rows) Next(dst []any) error {
	line, err := r.line()
	if errors.Is(err, io.EOF) {
		if e := r.last(); e != nil {
			return e
		}
		return io.EOF
	}
	if err != nil {
		return err
	}
	r.n++
	for i, c := range r.columns {
		cell, rest, more := strings.Cut(line, "\t")
		if more == (i == len(r.columns)-1) {
			return fmt.Errorf("read the engine's answer: row %d has not its %d values: %.200q", r.n, len(r.columns), line)
		}
		line = rest
		if dst[i], err = value(c, cell); err != nil {
			return fmt.Errorf("read the engine's answer: row %d, column %s: %w", r.n, c.Name, err)
		}
	}
	return nil
}

// Close ends the statement.
func (r *rows) Close() error { return errors.Join(r.from.Close(), r.done()) }
