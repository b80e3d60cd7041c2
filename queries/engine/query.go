package engine

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"

	"dynolake/queries/result"
)

// ErrTimeout says that a statement ran longer than the session's Timeout.
var ErrTimeout = errors.New("stopped: the statement ran longer than the session allows")

// Query admits one statement, runs it and gives its rows, which the caller closes. Named arguments stand for $name in it. A
// statement that is not admitted gives a *Refused; one that the database finds wrong gives a *Fault, with its place where known.
// Cancelling the context interrupts the run.
func (s *Session) Query(ctx context.Context, statement string, args ...sql.NamedArg) (*result.Rows, error) {
	conn, err := s.connect(ctx)
	if err != nil {
		return nil, err
	}
	rows, err := s.query(ctx, conn, statement, args)
	if err != nil {
		conn.close()
		return nil, err
	}
	return rows, nil
}

// Admit reads a statement and says why it would be refused, without running it.
func (s *Session) Admit(ctx context.Context, statement string) error {
	conn, err := s.connect(ctx)
	if err != nil {
		return err
	}
	defer conn.close()
	return conn.admit(ctx, statement, s.macros)
}

func (s *Session) query(ctx context.Context, conn *connection, statement string, args []sql.NamedArg) (*result.Rows, error) {
	if err := conn.admit(ctx, statement, s.macros); err != nil {
		return nil, err
	}
	named := make([]driver.NamedValue, len(args))
	for i, a := range args {
		named[i] = driver.NamedValue{Name: a.Name, Ordinal: i + 1, Value: a.Value}
	}
	running := ctx
	if s.timeout > 0 {
		var stop context.CancelFunc
		running, stop = context.WithTimeoutCause(ctx, s.timeout, ErrTimeout)
		defer stop()
	}
	rows, err := conn.query(running, statement, named)
	if err != nil {
		if running.Err() != nil {
			return nil, fmt.Errorf("run the statement: %w", context.Cause(running))
		}
		return nil, explain(err, statement)
	}
	types, ok := rows.(driver.RowsColumnTypeDatabaseTypeName)
	if !ok {
		return nil, errors.Join(errors.New("run the statement: the database driver tells no column types"), rows.Close())
	}
	columns := make([]result.Column, len(rows.Columns()))
	for i, name := range rows.Columns() {
		columns[i] = columnOf(name, types.ColumnTypeDatabaseTypeName(i))
	}
	return result.New(columns, &answer{conn: conn, rows: rows, columns: columns, values: make([]driver.Value, len(columns))}), nil
}

// answer feeds the driver's rows into a result.
type answer struct {
	conn    *connection
	rows    driver.Rows
	columns []result.Column
	values  []driver.Value
}

func (a *answer) Next(dst []any) error {
	if err := a.rows.Next(a.values); err != nil {
		if errors.Is(err, io.EOF) {
			return io.EOF
		}
		return explain(err, "")
	}
	for i, v := range a.values {
		dst[i] = valueOf(a.columns[i], v)
	}
	return nil
}

func (a *answer) Close() error {
	defer a.conn.close()
	return a.rows.Close()
}
