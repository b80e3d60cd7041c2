package packs

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"

	"dynolake/queries/engine"
	"dynolake/queries/result"
)

// Outcome is how one case went.
type Outcome struct {
	Pack  string
	Case  string   // The case's folder.
	Fails []string // What differs, each beginning with a place where there is one; empty when the case holds.
}

// Test runs the cases of the packs that name means: PACK/QUERY, all of one PACK, or every pack where it is empty. The cases of
// PACK/QUERY.sql are the folders PACK/QUERY.test/CASE beside it, each with case.yaml (all of it may be left out), a CSV file a
// view with the rows given, and expect.csv with the rows expected, in order; a case without expect.csv must give no rows.
// A user's query without any case is at least asked of an empty lake.
// The error is for a name that means no pack, a case that cannot be read is a failure of that case.
func Test(ctx context.Context, set *Set, name string) ([]Outcome, error) {
	return TestOn(ctx, set, name, ask)
}

// Ask puts a statement to an engine whose views hold the rows given, and gives the names and rows of its answer.
type Ask func(ctx context.Context, given map[string]engine.Rows, sql string) (columns []string, rows [][]any, err error)

// TestOn is Test on the engine that ask knows.
func TestOn(ctx context.Context, set *Set, name string, ask Ask) ([]Outcome, error) {
	var chosen []*Pack
	for _, p := range set.packs {
		if folder, _, _ := strings.Cut(p.Name, "/"); name == "" || name == p.Name || name == folder {
			chosen = append(chosen, p)
		}
	}
	if len(chosen) == 0 {
		_, err := set.Pack(name)
		return nil, err
	}
	var outcomes []Outcome
	for _, p := range chosen {
		var files fs.FS = ours
		root := "queries/packs"
		if p.User {
			files, root = os.DirFS(set.userDir), set.userDir
		}
		entries, err := fs.ReadDir(files, p.Name+".test")
		if errors.Is(err, fs.ErrNotExist) {
			if p.User {
				outcomes = append(outcomes, Outcome{p.Name, "asked of an empty lake", p.probe(ctx, ask)})
			}
			continue
		}
		if err != nil {
			return outcomes, fmt.Errorf("list the cases of %s: %w", p.Name, err)
		}
		for _, e := range entries {
			if !e.IsDir() {
				continue
			}
			if err := ctx.Err(); err != nil {
				return outcomes, err
			}
			dir := path.Join(p.Name+".test", e.Name())
			c := testCase{pack: p, files: files, dir: dir, shown: filepath.Join(root, filepath.FromSlash(dir))}
			outcomes = append(outcomes, Outcome{p.Name, c.shown, c.run(ctx, ask)})
		}
	}
	return outcomes, nil
}

// probe asks a query of an empty lake and tells what is wrong with it.
func (p *Pack) probe(ctx context.Context, ask Ask) []string {
	sql, err := p.SQL(nil)
	if err == nil {
		_, _, err = ask(ctx, nil, sql)
	}
	if err != nil {
		return []string{p.Fault(err).Error()}
	}
	return nil
}

// testCase is one folder of given and expected rows.
type testCase struct {
	pack  *Pack
	files fs.FS
	dir   string
	shown string // The folder as messages name it.
}

// settings is what case.yaml may say.
type settings struct {
	Params    map[string]any    // By name, as on the command line.
	Tolerance map[string]string // By column: 0.5 or 2%.
	Error     string            // Text that the refusal of the parameters must hold.
}

func (c testCase) run(ctx context.Context, ask Ask) []string {
	s, err := c.settings()
	if err != nil {
		return []string{err.Error()}
	}
	params := map[string]string{}
	for k, v := range s.Params {
		params[k] = plain(v)
	}
	sql, err := c.pack.SQL(params)
	if s.Error != "" {
		if err == nil || !strings.Contains(err.Error(), s.Error) {
			return []string{fmt.Sprintf("%s: the parameters gave %v, want an error that says %q", c.shown, err, s.Error)}
		}
		return nil
	}
	if err != nil {
		return []string{fmt.Sprintf("%s: %v", c.shown, err)}
	}
	given, err := c.given()
	if err != nil {
		return []string{err.Error()}
	}
	columns, rows, err := ask(ctx, given, sql)
	if err != nil {
		return []string{fmt.Sprintf("%s: %v", c.shown, err)}
	}
	fails := append(c.declared(columns), c.apart(ctx, ask, given, sql, columns, rows)...)
	expected, err := readTable(c.files, path.Join(c.dir, "expect.csv"), c.path("expect.csv"))
	if errors.Is(err, fs.ErrNotExist) {
		if len(rows) > 0 {
			fails = append(fails, fmt.Sprintf("%s: got %d rows, want none; the first is %s", c.shown, len(rows), show(columns, rows[0])))
		}
		return fails
	}
	if err != nil {
		return append(fails, err.Error())
	}
	return append(fails, expected.compare(columns, rows, s.Tolerance)...)
}

func (c testCase) path(file string) string { return filepath.Join(c.shown, file) }

func (c testCase) settings() (settings, error) {
	var s settings
	text, err := fs.ReadFile(c.files, path.Join(c.dir, "case.yaml"))
	if errors.Is(err, fs.ErrNotExist) {
		return s, nil
	}
	if err == nil {
		err = yaml.UnmarshalWithOptions(text, &s, yaml.Strict())
	}
	if err != nil {
		return s, fmt.Errorf("%s:1:1: read the case: %w", c.path("case.yaml"), err)
	}
	return s, nil
}

// given reads the rows given, by view.
func (c testCase) given() (map[string]engine.Rows, error) {
	given := map[string]engine.Rows{}
	views := engine.Views()
	files, err := fs.Glob(c.files, path.Join(c.dir, "*.csv"))
	if err != nil {
		return nil, fmt.Errorf("%s: list the rows given: %w", c.shown, err)
	}
	for _, f := range files {
		view := strings.TrimSuffix(path.Base(f), ".csv")
		if view == "expect" {
			continue
		}
		columns, ok := views[view]
		if !ok {
			return nil, fault{c.path(path.Base(f)), 1, 1, fmt.Sprintf("there is no view %q%s", view, suggest(view, sortedKeys(views)))}
		}
		t, err := readTable(c.files, f, c.path(path.Base(f)))
		if err != nil {
			return nil, err
		}
		names := make([]string, len(columns))
		for i, col := range columns {
			names[i] = col.Name
		}
		for i, n := range t.columns {
			if !slices.Contains(names, n) {
				return nil, fault{t.file, 1, t.place(0, i), fmt.Sprintf("view %s has no column %q%s", view, n, suggest(n, names))}
			}
		}
		given[view] = engine.Rows{Columns: t.columns, Values: t.values()}
	}
	return given, nil
}

// declared tells declared columns that are missing, and for our own packs any that differ.
func (c testCase) declared(columns []string) []string {
	var fails []string
	names := make([]string, len(c.pack.Columns))
	for i, d := range c.pack.Columns {
		names[i] = d.Name
		if !slices.Contains(columns, d.Name) {
			fails = append(fails, fmt.Sprintf("%s: declared column %q is not in the answer", c.pack.File, d.Name))
		}
	}
	if !c.pack.User && len(fails) == 0 && !slices.Equal(columns, names) {
		fails = append(fails, fmt.Sprintf("%s: the answer has the columns %v, declared are %v", c.pack.File, columns, names))
	}
	return fails
}

func ask(ctx context.Context, given map[string]engine.Rows, sql string) (columns []string, rows [][]any, err error) {
	s, err := engine.OpenTables(ctx, given, engine.Options{})
	if err != nil {
		return nil, nil, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	var answer *result.Rows
	if answer, err = s.Query(ctx, sql); err != nil {
		return nil, nil, err
	}
	rows, err = answer.All()
	return answer.Names(), rows, err
}
