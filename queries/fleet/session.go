package fleet

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"dynolake/queries/dialect"
	"dynolake/queries/engine"
	"dynolake/queries/result"
	"dynolake/schema"
)

// Embedded names the engine in this process; everything else is a server's address.
const Embedded = "clickhouse"

// LibraryVariable names the environment variable that says where the embedded engine's library lies.
const LibraryVariable = "DYNOLAKE_CHDB"

// Options of a session.
type Options struct {
	Engine  string              // Embedded, or http://user@host:port/database.
	Bucket  Bucket              // Where the publication is in one.
	Env     func(string) string // Names the library, the user and the password.
	Memory  int64               // Bytes that a statement may hold; 0: as the engine has it.
	Threads int                 // 0: as the engine has it.
	Timeout time.Duration       // Longest time that one statement may run; 0: no limit.
}

// Session asks one publication. Its methods may be called by several goroutines at once.
type Session struct {
	home    *engine.Session // Over empty views: admits statements and knows their answers' types.
	words   *dialect.Translator
	place   place
	options Options
	dial    func() (wire, error)
}

// Open starts a session over what was published. No file is read yet.
func Open(ctx context.Context, snap schema.Snapshot, o Options) (*Session, error) {
	p, err := newPlace(snap, o.Bucket)
	if err != nil {
		return nil, err
	}
	s := &Session{place: p, options: o}
	keys := []string{o.Bucket.ID, o.Bucket.Secret, o.Bucket.Token}
	if o.Engine == Embedded {
		path := o.Env(LibraryVariable)
		if path == "" {
			return nil, fmt.Errorf("load the embedded engine: %w: set %s to the path of libchdb.so; README says where it is had", ErrNoLibrary, LibraryVariable)
		}
		if _, err := os.Stat(path); err != nil {
			return nil, fmt.Errorf("load the embedded engine: %s names %q: %w", LibraryVariable, path, ErrNoLibrary)
		}
		s.dial = func() (wire, error) { return dialEmbedded(path, keys) }
	} else {
		if _, err := address(o.Engine); err != nil {
			return nil, err
		}
		s.dial = func() (wire, error) { return dialServer(o.Engine, o.Env, keys) }
	}
	if s.words, err = translator(); err != nil {
		return nil, err
	}
	if s.home, err = engine.OpenTables(ctx, nil, engine.Options{Threads: 1}); err != nil {
		return nil, err
	}
	return s, nil
}

// translator knows the lake's macros and views.
func translator() (*dialect.Translator, error) {
	views := map[string][]dialect.Column{}
	for name, columns := range engine.Views() {
		for _, c := range columns {
			views[name] = append(views[name], dialect.Column{Name: c.Name, Type: c.Type})
		}
	}
	return dialect.New(engine.MacrosSQL(), views)
}

// Close ends the session. Rows that are still open stay readable until they are closed.
func (s *Session) Close() error { return s.home.Close() }

// Query admits one statement, runs it and gives its rows, which the caller closes. Named arguments stand for $name in it. What is
// not admitted gives an *engine.Refused, what is wrong with it an *engine.Fault; what the engine says to it a *Fault.
func (s *Session) Query(ctx context.Context, statement string, args ...sql.NamedArg) (*result.Rows, error) {
	columns, views, err := s.admit(ctx, statement, args)
	if err != nil {
		return nil, err
	}
	script, err := s.words.Translate(statement, args)
	if err != nil {
		return nil, err
	}
	stop := func() {}
	if s.options.Timeout > 0 {
		ctx, stop = context.WithTimeoutCause(ctx, s.options.Timeout, fmt.Errorf("run the statement: %w", engine.ErrTimeout))
	}
	w, err := s.connect(ctx)
	if err != nil {
		stop()
		return nil, err
	}
	r, err := s.answer(ctx, w, views, script, columns)
	if err != nil {
		stop()
		return nil, errors.Join(err, w.close(ctx, script.Drop))
	}
	r.last = func() error { return s.place.whole(views) }
	r.done = func() error {
		stop()
		return w.close(ctx, script.Drop)
	}
	return result.New(columns, r), nil
}

// admit has the lake's own engine read the statement: may it run, which views does it read, what are its answer's columns.
func (s *Session) admit(ctx context.Context, statement string, args []sql.NamedArg) ([]result.Column, []string, error) {
	views, err := s.home.Reads(ctx, statement)
	if err != nil {
		return nil, nil, err
	}
	asked, err := s.home.Query(ctx, statement, args...)
	if err != nil {
		return nil, nil, err
	}
	return asked.Columns(), views, asked.Close()
}

// connect opens a connection with the settings of every statement.
func (s *Session) connect(ctx context.Context) (wire, error) {
	w, err := s.dial()
	if err != nil {
		return nil, err
	}
	if err := w.run(ctx, "SET "+settings(s.options)); err != nil {
		return nil, errors.Join(doing("set the engine up", err), w.close(ctx, nil))
	}
	if err := w.run(ctx, "SET readonly = 2"); err != nil && code(err) != codeReadonly { // It is, where the user may do no more.
		return nil, errors.Join(doing("set the engine up", err), w.close(ctx, nil))
	}
	return w, nil
}

// settings are those that translated statements stand on, how files are read, and what a statement may take.
func settings(o Options) string {
	var list []string
	for _, s := range dialect.Settings() {
		value := s.Value
		if _, err := strconv.Atoi(value); err != nil {
			value = text(value)
		}
		list = append(list, s.Name+" = "+value)
	}
	list = append(list,
		"use_hive_partitioning = 0",                      // The folder of a month is no column.
		"input_format_parquet_allow_missing_columns = 1", // One that an older file lacks is NULL.
		"s3_retry_attempts = 4",                          // As often as publish tries.
	)
	if o.Memory > 0 {
		list = append(list, "max_memory_usage = "+strconv.FormatInt(o.Memory, 10))
	}
	if o.Threads > 0 {
		list = append(list, "max_threads = "+strconv.Itoa(o.Threads))
	}
	if o.Timeout > 0 { // Behind the context, which comes first: for a server that cannot be reached any more.
		list = append(list, "max_execution_time = "+strconv.Itoa(int(o.Timeout/time.Second)+5))
	}
	return strings.Join(list, ", ")
}

// answer makes the views and what the statement stands on, and begins the answer.
func (s *Session) answer(ctx context.Context, w wire, views []string, script dialect.Script, columns []result.Column) (*rows, error) {
	if err := s.place.whole(views); err != nil {
		return nil, err
	}
	for _, v := range views {
		if err := w.run(ctx, "CREATE TEMPORARY VIEW "+ident(v)+" AS "+s.place.view(v)); err != nil {
			return nil, doing("read "+v, err)
		}
	}
	for _, step := range script.Steps {
		if err := w.run(ctx, step.SQL); err != nil {
			return nil, err
		}
	}
	body, err := w.ask(ctx, script.Answer)
	if err != nil {
		return nil, err
	}
	r, err := newRows(body, columns)
	if err != nil {
		return nil, errors.Join(err, body.Close())
	}
	return r, nil
}
