package engine

import (
	"context"
	"database/sql"
	"errors"
	"slices"

	"dynolake/queries/result"
)

// Asker answers statements: a Session over a lake, or another engine's over what was published of one.
type Asker interface {
	Query(ctx context.Context, statement string, args ...sql.NamedArg) (*result.Rows, error)
}

// Query admits one statement, runs it and gives its rows, which the caller closes. Named arguments stand for $name in it. A
// statement that is not admitted gives a *Refused; one that the database finds wrong gives a *Fault, with its place where known.
// Cancelling the context interrupts it, at its start and between any two rows.
func (s *Session) Query(ctx context.Context, statement string, args ...sql.NamedArg) (*result.Rows, error) {
	list := make([]argument, len(args))
	for i, a := range args {
		list[i] = argument{a.Name, a.Value}
	}
	rows, err := s.query(ctx, statement, list, false)
	if unparsed(err) {
		if again := quotedAt(statement); again != statement {
			if rows, e := s.query(ctx, again, list, false); !unparsed(e) {
				return rows, e
			}
		}
	}
	if fault := new(Fault); errors.As(err, &fault) && fault.Kind == "Binder" { // What it says of columns it is to say of all that there are.
		return s.query(ctx, statement, list, true)
	}
	return rows, err
}

func unparsed(err error) bool {
	fault := new(Fault)
	return errors.As(err, &fault) && fault.Kind == "Parser"
}

// query is Query over views of the columns that the statement names, or of all.
func (s *Session) query(ctx context.Context, statement string, args []argument, all bool) (*result.Rows, error) {
	conn, err := s.db.connect()
	if err != nil {
		return nil, err
	}
	use, err := conn.admit(ctx, statement, s.macros, args)
	if err == nil {
		use.columns.any = use.columns.any || all
		err = s.ready(ctx, conn, use)
	}
	var cur *cursor
	if err == nil {
		cur, err = conn.start(ctx, statement, args, watch{conn: conn, limited: s.timeout > 0, left: s.timeout})
	}
	if err != nil {
		conn.close()
		return nil, err
	}
	cur.done = conn.close
	return cur.rows(), nil
}

// Reads tells which views a statement reads, in the order of their names, without running it.
func (s *Session) Reads(ctx context.Context, statement string) ([]string, error) {
	conn, err := s.db.connect()
	if err != nil {
		return nil, err
	}
	defer conn.close()
	use, err := conn.admit(ctx, statement, s.macros, nil)
	slices.Sort(use.views)
	return use.views, err
}

// Admit reads a statement and says why it would be refused, without running it.
func (s *Session) Admit(ctx context.Context, statement string) error {
	conn, err := s.db.connect()
	if err != nil {
		return err
	}
	defer conn.close()
	_, err = conn.admit(ctx, statement, s.macros, nil)
	return err
}
