package tables

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"reflect"
	"slices"

	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/queries/result"
)

// Folder is where a lake keeps its tables.
const Folder = "tables"

// Job is one writing of a lake's tables.
type Job struct {
	Inputs
	Root    string // Of the lake.
	Data    string // Stands for the runs, whatever the order of their ingest.
	Queries []Query
	Shares  Shares // Of the runs; nil where a vehicle's are not told apart.
	Was     Shares // When the books were written.
	Disk    Disk

	// Open starts a session over the snapshot, of these vehicles alone where they are not nil, with so many times the usual memory.
	Open func(ctx context.Context, vehicles []string, times int64) (*engine.Session, error)
}

// Disk is what tables are written with.
type Disk interface {
	// Put writes a new file and makes its content durable; after an error there is none.
	Put(path string, mode fs.FileMode, write func(io.Writer) error) error
	Rename(from, to string) error
	// Exchange gives two names each other's folder in one step; errors.ErrUnsupported where the system cannot.
	Exchange(a, b string) error
	Mkdir(path string) error
	// RemoveAll removes a file or a folder with all in it; what is not there is no error.
	RemoveAll(path string) error
	// SyncDir makes the names in a folder durable.
	SyncDir(path string) error
}

// Query is a table's question.
type Query struct {
	Pack      *packs.Pack
	Statement string   // The pack's SQL with its parameters in place, or where there is Of what stands for it and reads the same views.
	Part      string   // What sets it apart from another question of the same pack; empty for the one that bears the pack's name.
	Apart     []string // The columns that the answer is ordered by first, the last being vehicle, where it can be told of each vehicle apart; nil where not.

	// Of makes statements for the vehicles of a session, where one would grow with them. Their answers follow each other in the order of the vehicles.
	Of func(ctx context.Context, s *engine.Session) ([]Ask, error)
}

// Ask is one statement of several.
type Ask struct {
	Vehicles  []string // Whose rows it answers.
	Statement string
}

// Book is what is kept of a table to tell whether it stays.
type Book struct {
	Query     string   `json:"query"`
	Part      string   `json:"part,omitempty"`
	Statement string   `json:"statement"` // Stands for the statement and the macros: as long as it stays, so does Reads.
	Reads     []string `json:"reads"`     // Views.
	Basis     string   `json:"basis"`
	Common    string   `json:"common,omitempty"` // The basis but for what is of single vehicles.

	Parquet string          `json:"parquet"` // SHA-256 of the table's file and its columns, for who answers from it.
	Columns []result.Column `json:"columns"`
}

// Result is what a writing did.
type Result struct {
	Computed []string // Tables, by name.
	Partly   []string // Those of them that were computed for the vehicles with news alone.
	News     []string // Vehicles that have other runs than the last time, or another entry, or are gone; "" stands for runs of none.
	Kept     []string
	Books    map[string]Book // By table; to be given to the next Write.
	Changed  bool            // The folder is another one now.
	Problems []error         // Users' queries that failed and have no table.
}

// Write brings the tables up to the job's snapshot, with the books that the last Write gave. The caller holds the lake's lock.
func Write(ctx context.Context, job Job, books map[string]Book) (res Result, err error) {
	if err := tidy(job.Disk, job.Root); err != nil {
		return Result{}, err
	}
	w := writing{Job: job, books: books, names: names(job.Queries), was: ReadManifest(job.Root), goOn: map[string]bool{}, times: 1, res: Result{Books: map[string]Book{}, News: job.Shares.other(job.Was)}}
	defer func() { err = errors.Join(err, w.close()) }()
	var stale []Query
	for _, p := range job.Queries {
		same, err := w.same(ctx, p)
		if err != nil {
			return Result{}, err
		}
		if !same {
			stale = append(stale, p)
		}
	}
	if len(stale) == 0 && w.was.Data == job.Data && len(w.was.Tables) == len(w.res.Kept) {
		return w.res, nil
	}
	if err := w.folder(ctx, stale); err != nil {
		return Result{}, err
	}
	return w.res, nil
}

type writing struct {
	Job
	books   map[string]Book
	names   map[string]string
	was     Manifest
	now     Manifest
	session *engine.Session
	of      []string        // Its vehicles; nil for all.
	asked   int             // Tables that it has computed.
	times   int64           // How many times the usual memory it has.
	goOn    map[string]bool // The tables of which the rows of the other vehicles stay.
	dir     string          // Of the new tables.
	res     Result
}

// same reports whether a query's table is there and would come out as it is.
func (w *writing) same(ctx context.Context, q Query) (_ bool, err error) {
	p, name, statement := q.Pack, w.names[q.key()], q.Statement
	was, known := w.books[name]
	b := Book{Query: p.Name, Part: q.Part, Statement: statementMark(statement), Reads: was.Reads, Parquet: was.Parquet, Columns: was.Columns}
	if !known || was.Statement != b.Statement {
		s, err := w.over(ctx, nil)
		if err != nil {
			return false, err
		}
		if b.Reads, err = s.Reads(ctx, statement); err != nil {
			b.Reads = nil // Its run tells.
		}
	}
	b.Basis = w.basis(statement, p.Units(), b.Reads)
	if q.Apart != nil && w.Shares != nil {
		b.Common = w.common(q, b.Reads)
	}
	w.res.Books[name] = b
	i := slices.IndexFunc(w.was.Tables, func(t Table) bool { return t.Name == name })
	if !known || i < 0 || was.Parquet != w.was.Tables[i].Parquet || !w.was.Tables[i].sound(w.Root) {
		return false, nil
	}
	if was.Basis != b.Basis {
		w.goOn[name] = was.Common != "" && was.Common == b.Common && w.few(q)
		return false, nil
	}
	w.res.Kept = append(w.res.Kept, name)
	return true, nil
}

// folder makes the new tables beside the old ones and puts them in their place.
func (w *writing) folder(ctx context.Context, stale []Query) (err error) {
	w.dir = filepath.Join(w.Root, newPrefix+"0") // Who calls has the lake's lock, and there is none by now.
	if err := w.Disk.Mkdir(w.dir); err != nil {
		return fmt.Errorf("write tables: %w", err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, w.Disk.RemoveAll(w.dir))
		}
	}()
	w.now = Manifest{Format: 1, Data: w.Data}
	for _, name := range w.res.Kept {
		i := slices.IndexFunc(w.was.Tables, func(t Table) bool { return t.Name == name })
		if err := w.was.Tables[i].copy(w.Disk, w.Root, w.dir); err != nil {
			return err
		}
		w.now.Tables = append(w.now.Tables, w.was.Tables[i])
	}
	for _, p := range w.inTurn(stale) {
		if err := w.table(ctx, p); err != nil {
			return err
		}
	}
	w.now.sort()
	if reflect.DeepEqual(w.now, w.was) {
		return w.Disk.RemoveAll(w.dir) // All of it came out as it is.
	}
	if err := w.now.write(w.Disk, w.dir); err != nil {
		return err
	}
	if err := w.Disk.SyncDir(w.dir); err != nil {
		return fmt.Errorf("write tables: %w", err)
	}
	if err := swap(w.Disk, w.Root, filepath.Base(w.dir)); err != nil {
		return err
	}
	w.res.Changed = true
	return nil
}

// table computes one table. A user's query that fails is a problem and no error.
func (w *writing) table(ctx context.Context, q Query) error {
	p, name := q.Pack, w.names[q.key()]
	if err := w.fresh(ctx); err != nil {
		return err
	}
	t, err := w.compute(ctx, q, name)
	for tooLittle(err) && w.times < most {
		if err = errors.Join(w.close(), w.clear(name)); err != nil {
			break
		}
		w.times *= 4
		t, err = w.compute(ctx, q, name)
	}
	if err != nil && p.User && ctx.Err() == nil {
		w.res.Problems = append(w.res.Problems, p.Fault(err))
		delete(w.res.Books, name)
		return w.clear(name)
	}
	if err != nil {
		return fmt.Errorf("write table %s: %w", name, err)
	}
	w.now.Tables = append(w.now.Tables, t)
	w.res.Computed = append(w.res.Computed, name)
	return nil
}

// most is how many times the usual memory a session may have in the end.
const most = 64

// tooLittle reports whether a statement wants more memory than its session has.
func tooLittle(err error) bool {
	fault := new(engine.Fault)
	return errors.As(err, &fault) && fault.Kind == engine.OutOfMemory
}

// clear removes what was written of a table.
func (w *writing) clear(name string) error {
	return errors.Join(w.Disk.RemoveAll(filepath.Join(w.dir, name+".csv")), w.Disk.RemoveAll(filepath.Join(w.dir, name+".parquet")))
}

func (w *writing) compute(ctx context.Context, q Query, name string) (Table, error) {
	t := Table{Name: name, Query: q.Pack.Name}
	rows, err := w.answer(ctx, q, name)
	if err != nil {
		return t, err
	}
	columns := rows.Columns()
	if err := t.write(ctx, w.Disk, w.dir, rows, q.Pack.Units()); err != nil {
		return t, err
	}
	b := w.res.Books[name]
	b.Parquet, b.Columns = t.Parquet, columns
	w.res.Books[name] = b
	return t, nil
}
