package engine

import (
	"context"
	"slices"
	"strings"

	"dynolake/schema"
)

// usage is what an admitted statement reads.
type usage struct {
	views   []string // Of the session's; each once.
	runs    []string // All the runs whose samples it can see, where it says so; nil: any.
	macros  []string // That it names.
	columns naming
}

// ready makes the macros and views that a statement reads, each when it is first read: a lake of thousands of sample files then costs
// nothing to whom the runs are enough. A statement on named runs, and one that names its columns, gets a view of its own over their files and of those columns alone.
func (s *Session) ready(ctx context.Context, conn *connection, use usage) error {
	s.making.Lock()
	defer s.making.Unlock()
	if err := s.define(ctx, conn, use.macros); err != nil {
		return err
	}
	for _, name := range use.views {
		if err := s.make(ctx, conn, name, use); err != nil {
			return err
		}
	}
	return nil
}

// make makes a view unless it is there.
func (s *Session) make(ctx context.Context, conn *connection, name string, use usage) error {
	t, stored := schema.LookupTable(name)
	runs := name == samples && use.runs != nil
	if s.root == "" || s.made[name] && !runs {
		return nil // Given tables are there from the start.
	}
	if !stored {
		err := conn.run(ctx, s.creation(name, s.statedView(name)))
		s.made[name] = err == nil
		return err
	}
	files := s.files[name]
	if runs {
		files = pick(files, use.runs)
	}
	if some, own := use.columns.of(t, s.own[name]); runs || len(some.Columns) < len(t.Columns) {
		return s.tableView(ctx, conn, "TEMP VIEW", some, files, own)
	}
	err := s.tableView(ctx, conn, "VIEW", t, files, s.own[name])
	s.made[name] = err == nil
	return err
}

const samples = "samples"

// narrow notes which runs a SELECT straight from samples asks for by name in its WHERE.
func (w *walker) narrow(p map[string]any, scope []string) {
	from, _ := p["from_table"].(map[string]any)
	name, _ := from["table_name"].(string)
	if from["type"] != "BASE_TABLE" || !strings.EqualFold(name, samples) || slices.Contains(scope, samples) || from["schema_name"] != "" {
		return
	}
	alias, _ := from["alias"].(string)
	if alias == "" {
		alias = name
	}
	if runs := w.runsOf(p["where_clause"], alias); runs != nil {
		w.use.runs = append(w.use.runs, runs...)
		from["narrowed"] = true
	}
}

// runsOf finds the runs that a condition lets through: run_id = 'x', run_id IN ('x', 'y'), or any AND of these with others.
func (w *walker) runsOf(part any, alias string) []string {
	p, _ := part.(map[string]any)
	switch p["type"] {
	case "CONJUNCTION_AND":
		children, _ := p["children"].([]any)
		for _, c := range children {
			if runs := w.runsOf(c, alias); runs != nil {
				return runs
			}
		}
	case "COMPARE_EQUAL":
		if isRunID(p["left"], alias) {
			return w.texts([]any{p["right"]})
		}
		if isRunID(p["right"], alias) {
			return w.texts([]any{p["left"]})
		}
	case "COMPARE_IN":
		if children, _ := p["children"].([]any); len(children) > 1 && isRunID(children[0], alias) {
			return w.texts(children[1:])
		}
	}
	return nil
}

func isRunID(part any, alias string) bool {
	p, _ := part.(map[string]any)
	names, _ := p["column_names"].([]any)
	if p["class"] != "COLUMN_REF" || len(names) == 0 || len(names) > 2 {
		return false
	}
	last, _ := names[len(names)-1].(string)
	table, _ := names[0].(string)
	return strings.EqualFold(last, "run_id") && (len(names) == 1 || strings.EqualFold(table, alias))
}

// texts reads constants and arguments that are texts; nil when one is anything else.
func (w *walker) texts(parts []any) []string {
	list := make([]string, 0, len(parts))
	for _, part := range parts {
		p, _ := part.(map[string]any)
		switch p["class"] {
		case "CONSTANT":
			value, _ := p["value"].(map[string]any)
			s, ok := value["value"].(string)
			if !ok {
				return nil
			}
			list = append(list, s)
		case "PARAMETER":
			i := slices.IndexFunc(w.args, func(a argument) bool { return a.name == p["identifier"] })
			if i < 0 {
				return nil
			}
			s, ok := w.args[i].value.(string)
			if !ok {
				return nil
			}
			list = append(list, s)
		default:
			return nil
		}
	}
	return list
}
