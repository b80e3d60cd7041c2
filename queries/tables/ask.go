package tables

import (
	"context"
	"errors"
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
	s, err := w.Open(ctx, vehicles, w.times)
	if err != nil {
		return nil, err
	}
	w.session, w.of, w.asked = s, vehicles, 0
	return s, nil
}

// before is how many tables a session computes before it is renewed: the two on limits alone leave it with 0.2 GB beside the 128 MiB that it may have, and a new one takes
// 30 ms.
const before = 2

// fresh renews the session when it has computed its share.
func (w *writing) fresh(ctx context.Context) error {
	if w.asked++; w.session == nil || w.asked <= before {
		return nil
	}
	w.asked = 1
	return w.session.Renew(ctx)
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
			if !slices.Contains(w.res.Partly, name) { // It may be asked a second time, with more memory.
				w.res.Partly = append(w.res.Partly, name)
			}
			return rows, err
		}
	}
	if q.Apart != nil {
		return w.ofSome(ctx, q, nil)
	}
	asks, err := w.asks(ctx, q, nil)
	if err != nil {
		return nil, err
	}
	return w.session.Query(ctx, asks[0].Statement)
}

// asks lists the statements that answer for some vehicles, and leaves the session of these open.
func (w *writing) asks(ctx context.Context, q Query, vehicles []string) ([]Ask, error) {
	s, err := w.over(ctx, vehicles)
	if err != nil || q.Of == nil {
		return []Ask{{vehicles, q.Statement}}, err
	}
	list, err := q.Of(ctx, s)
	if len(list) == 1 {
		list[0].Vehicles = vehicles // The session that is open will do.
	}
	return list, err
}

// ofSome asks a table's question of some vehicles, or of all where they are nil.
func (w *writing) ofSome(ctx context.Context, q Query, vehicles []string) (*result.Rows, error) {
	asks, err := w.asks(ctx, q, vehicles)
	if err != nil {
		return nil, err
	}
	c := &chain{left: asks, next: func(a Ask) (*result.Rows, error) {
		s, err := w.over(ctx, a.Vehicles)
		if err != nil {
			return nil, err
		}
		return s.Query(ctx, a.Statement)
	}}
	if err := c.goOn(); err != nil {
		return nil, err
	}
	return ordered(result.New(c.rows.Columns(), c), q)
}
