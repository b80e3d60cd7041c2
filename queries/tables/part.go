package tables

import (
	"context"
	"errors"
	"path/filepath"
	"slices"

	"dynolake/queries/result"
)

// Shares tells by vehicle, "" being the runs of none, what stands for its runs and its entry.
type Shares map[string]string

// other lists the vehicles of which something is another than it was, those that are gone among them.
func (s Shares) other(was Shares) []string {
	var list []string
	for v, mark := range s {
		if was[v] != mark {
			list = append(list, v)
		}
	}
	for v := range was {
		if _, there := s[v]; !there {
			list = append(list, v)
		}
	}
	slices.Sort(list)
	return list
}

// few reports whether a table is asked for again of the vehicles with news alone: of half of them or more it is quicker to ask for it whole.
func (w *writing) few(q Query) bool {
	return q.Apart != nil && 2*len(w.res.News) < len(w.Shares)
}

// partial gives a table's answer from the one that stands and the answer for the vehicles with news.
func (w *writing) partial(ctx context.Context, q Query, name string) (*result.Rows, error) {
	b := w.books[name]
	stand, ok := b.rows(ctx, filepath.Join(w.Root, Folder, name+".parquet"))
	if !ok {
		return nil, errOther
	}
	fresh, err := w.ofSome(ctx, q, w.res.News)
	if err != nil {
		return nil, errors.Join(err, stand.Close())
	}
	if !slices.Equal(fresh.Columns(), b.Columns) {
		return nil, errors.Join(errOther, stand.Close(), fresh.Close())
	}
	m := &merged{keys: positions(fresh.Columns(), q.Apart)}
	at := m.keys[len(m.keys)-1]
	m.sides = [2]side{{rows: stand, skip: func(row []any) bool { return slices.Contains(w.res.News, vehicleOf(row[at])) }}, {rows: fresh}}
	return result.New(fresh.Columns(), m), nil
}

// errOther says that a table cannot be made from the one that stands.
var errOther = errors.New("the table that stands cannot be gone on with")

func vehicleOf(v any) string {
	name, _ := v.(string)
	return name
}
