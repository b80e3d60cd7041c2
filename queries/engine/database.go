package engine

import (
	"context"
	"errors"
	"fmt"
	"slices"

	duck "github.com/duckdb/duckdb-go-bindings"
)

// The session speaks with the database through its C interface, not through database/sql: there a result is held whole in
// memory that no limit counts, and nothing can interrupt its reading.

// database is one in-memory database.
type database struct{ handle duck.Database }

// openDatabase starts an empty one with the given settings.
func openDatabase(settings map[string]string) (*database, error) {
	var config duck.Config
	if duck.CreateConfig(&config) == duck.StateError {
		return nil, errors.New("make the database's settings: out of memory")
	}
	defer duck.DestroyConfig(&config)
	for name, value := range settings {
		if duck.SetConfig(config, name, value) == duck.StateError {
			return nil, fmt.Errorf("set %s to %q: the database does not take it", name, value)
		}
	}
	d := &database{}
	var why string
	if duck.OpenExt(":memory:", &d.handle, config, &why) == duck.StateError {
		duck.Close(&d.handle)
		return nil, fmt.Errorf("start the database: %s", why)
	}
	return d, nil
}

// close frees the database; connections that are still open keep what they need of it.
func (d *database) close() { duck.Close(&d.handle) }

// connection is one connection to a session's database, for one statement at a time.
type connection struct{ handle duck.Connection }

func (d *database) connect() (*connection, error) {
	c := &connection{}
	if duck.Connect(d.handle, &c.handle) == duck.StateError {
		return nil, errors.New("connect to the database: it takes no more connections")
	}
	return c, nil
}

func (c *connection) close() { duck.Disconnect(&c.handle) }

// run executes our own statements; a user's never come here.
func (c *connection) run(ctx context.Context, statements string) error {
	var res duck.Result
	defer duck.DestroyResult(&res)
	var state duck.State
	w := watch{conn: c}
	if err := w.guard(ctx, func() { state = duck.Query(c.handle, statements, &res) }); err != nil {
		return err
	}
	if state == duck.StateError {
		return explain(duck.ResultError(&res), statements)
	}
	return nil
}

// collect asks one of our own questions, whose answers are few.
func (c *connection) collect(ctx context.Context, statement string, args ...any) ([][]any, error) {
	cur, err := c.start(ctx, statement, named(args), watch{conn: c})
	if err != nil {
		return nil, err
	}
	rows := cur.rows()
	return rows.All()
}

// named numbers arguments by their place: $1, $2.
func named(args []any) []argument {
	list := make([]argument, len(args))
	for i, a := range args {
		list[i] = argument{fmt.Sprint(i + 1), a}
	}
	return list
}

// prepare parses and binds one statement.
func (c *connection) prepare(statement string, args []argument) (duck.PreparedStatement, error) {
	var p duck.PreparedStatement
	if duck.Prepare(c.handle, statement, &p) == duck.StateError {
		defer duck.DestroyPrepare(&p)
		return p, explain(duck.PrepareError(p), statement)
	}
	if err := bindAll(p, args); err != nil {
		duck.DestroyPrepare(&p)
		return p, err
	}
	return p, nil
}

// bindAll gives every parameter of a statement its argument; one too many or too few is an error.
func bindAll(p duck.PreparedStatement, args []argument) error {
	for _, a := range args {
		var at duck.IdxT
		if duck.BindParameterIndex(p, &at, a.name) == duck.StateError {
			return fmt.Errorf("bind argument %s: the statement does not name $%s", a.name, a.name)
		}
		if err := bind(p, at, a.value); err != nil {
			return fmt.Errorf("bind argument %s: %w", a.name, err)
		}
	}
	for i := range duck.NParams(p) {
		name := duck.ParameterName(p, i+1)
		if !slices.ContainsFunc(args, func(a argument) bool { return a.name == name }) {
			return fmt.Errorf("bind arguments: $%s has no value", name)
		}
	}
	return nil
}
