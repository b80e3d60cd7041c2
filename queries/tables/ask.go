package tables

import (
	"context"
	"errors"
	"maps"
	"slices"

	"dynolake/queries/engine"
	"dynolake/queries/result"
)

// over gives a session of some vehicles, or of all where they are nil. There is one at a time, so that they share no memory: the one before is closed.
func (w *writing) over(ctx context.Context, vehicles []string) (*engine.Session, error) {
	if w.session != nil && slices.Equal(vehicles, w.of) && (vehicles == nil) == (w.of == nil) {
		return w.session, nil
	}
	if err := w.close(); err != nil {
		return nil, err
	}
	s, err := w.Open(ctx, vehicles)
	if err != nil {
		return nil, err
	}
	w.session, w.of = s, vehicles
	return s, nil
}

func (w *writing) close() error {
	if w.session == nil {
		return nil
	}
	s := w.session
	w.session = nil
	return s.Close()
}

// inTurn puts the tables that are gone on with before the others, so that sessions change once.
func (w *writing) inTurn(stale []Query) []Query {
	var on, whole []Query
	for _, q := range stale {
		if w.goOn[w.names[q.key()]] {
			on = append(on, q)
		} else {
			whole = append(whole, q)
		}
	}
	return append(on, whole...)
}

// answer asks a table's question, of all vehicles or of those with news.
func (w *writing) answer(ctx context.Context, q Query, name string) (*result.Rows, error) {
	if w.goOn[name] {
		rows, err := w.partial(ctx, q, name)
		if !errors.Is(err, errOther) {
			w.res.Partly = append(w.res.Partly, name)
			return rows, err
		}
	}
	if q.Of != nil && q.Apart != nil {
		return w.ofSome(ctx, q, slices.Sorted(maps.Keys(w.Shares)))
	}
	s, err := w.over(ctx, nil)
	if err != nil {
		return nil, err
	}
	rows, err := q.ask(ctx, s)
	if err != nil || q.Apart == nil {
		return rows, err
	}
	return ordered(rows, q)
}

// ask puts the question to a session.
func (q Query) ask(ctx context.Context, s *engine.Session) (*result.Rows, error) {
	statement := q.Statement
	if q.Of != nil {
		var err error
		if statement, err = q.Of(ctx, s); err != nil {
			return nil, err
		}
	}
	return s.Query(ctx, statement)
}
