package tables

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"dynolake/queries/packs"
	"dynolake/queries/result"
)

// chain gives the rows of one answer after the other.
type chain struct {
	left []Ask // Those to come.
	next func(Ask) (*result.Rows, error)
	rows *result.Rows
}

func (c *chain) goOn() error {
	rows, err := c.next(c.left[0])
	if err != nil {
		return err
	}
	if c.rows != nil {
		if !slices.Equal(rows.Columns(), c.rows.Columns()) {
			return errors.Join(fmt.Errorf("the answers for some vehicles have other columns: %q and %q", c.rows.Names(), rows.Names()), rows.Close())
		}
		if err := c.rows.Close(); err != nil {
			return errors.Join(err, rows.Close())
		}
	}
	c.rows, c.left = rows, c.left[1:]
	return nil
}

// Next fills dst with the next row.
func (c *chain) Next(dst []any) error {
	for {
		if err := next(c.rows, dst); !errors.Is(err, io.EOF) || len(c.left) == 0 {
			return err
		}
		if err := c.goOn(); err != nil {
			return err
		}
	}
}

// Close ends the answer that is open.
func (c *chain) Close() error { return c.rows.Close() }

// inOrder gives rows on and holds them to the order that the query promises.
type inOrder struct {
	rows *result.Rows
	file string // For messages.
	keys []int
	last []any
}

// ordered takes an answer over; where it has not the columns that the query promises, it closes it.
func ordered(rows *result.Rows, q Query) (*result.Rows, error) {
	keys := positions(rows.Columns(), q.Apart)
	if i := slices.Index(keys, -1); i >= 0 {
		return nil, errors.Join(fmt.Errorf("%s: the answer has no text column %q, which the line `-- apart:` names", q.Pack.File, q.Apart[i]), rows.Close())
	}
	return result.New(rows.Columns(), &inOrder{rows: rows, file: q.Pack.File, keys: keys}), nil
}

// positions finds columns of texts by name, -1 where there is none.
func positions(columns []result.Column, names []string) []int {
	list := make([]int, len(names))
	for i, name := range names {
		list[i] = slices.IndexFunc(columns, func(c result.Column) bool { return c.Name == name && c.Kind == result.Text })
	}
	return list
}

// Next fills dst with the next row.
func (o *inOrder) Next(dst []any) error {
	if err := next(o.rows, dst); err != nil {
		return err
	}
	if o.last != nil && packs.Follow(o.last, dst, o.keys) > 0 {
		return fmt.Errorf("%s: the answer is not ordered by what the line `-- apart:` names: %v comes after %v", o.file, dst[o.keys[len(o.keys)-1]], o.last[o.keys[len(o.keys)-1]])
	}
	o.last = append(o.last[:0], dst...)
	return nil
}

// Close ends the statement.
func (o *inOrder) Close() error { return o.rows.Close() }

func next(rows *result.Rows, dst []any) error {
	if rows.Next() {
		copy(dst, rows.Row())
		return nil
	}
	if err := rows.Err(); err != nil {
		return err
	}
	return io.EOF
}

// side is one of two answers that are merged; skip tells the rows that the other one has anew.
type side struct {
	rows *result.Rows
	skip func(row []any) bool
	row  []any // The next one; nil at the end.
	read bool
}

func (s *side) ahead() error {
	for !s.read || s.row != nil && s.skip != nil && s.skip(s.row) {
		s.read = true
		if s.row == nil {
			s.row = make([]any, len(s.rows.Columns()))
		}
		switch err := next(s.rows, s.row); {
		case errors.Is(err, io.EOF):
			s.row = nil
			return nil
		case err != nil:
			return err
		}
	}
	return nil
}

// merged gives the rows of two answers in their order.
type merged struct {
	keys  []int
	sides [2]side
}

// Next fills dst with the next row.
func (m *merged) Next(dst []any) error {
	for i := range m.sides {
		if err := m.sides[i].ahead(); err != nil {
			return err
		}
	}
	a, b := &m.sides[0], &m.sides[1]
	from := a
	if a.row == nil || b.row != nil && packs.Follow(b.row, a.row, m.keys) < 0 {
		from = b
	}
	if from.row == nil {
		return io.EOF
	}
	copy(dst, from.row)
	from.read = false
	return nil
}

// Close ends both.
func (m *merged) Close() error { return errors.Join(m.sides[0].rows.Close(), m.sides[1].rows.Close()) }
