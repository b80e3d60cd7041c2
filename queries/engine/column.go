package engine

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"dynolake/schema"
)

// UserColumn is a column that a user declares: an SQL expression over a view's columns. Every view that has all columns which the
// expression names has it too; in curves, whose columns are means over a bin, it is the expression of the means.
type UserColumn struct {
	Name, Unit, Formula, Meaning string
}

// ColumnFault says why a user's column is left out.
type ColumnFault struct {
	Name         string
	Text         string
	Line, Column int // In the formula, from 1; 0 where the fault is not at one place.
}

func (f ColumnFault) Error() string { return fmt.Sprintf("column %s: %s", f.Name, f.Text) }

// Faults tells the user's columns that are left out, and why.
func (s *Session) Faults() []ColumnFault { return slices.Clone(s.faults) }

// UserColumns gives the user's columns of a view, in the order of their declaration.
func (s *Session) UserColumns(view string) []UserColumn { return slices.Clone(s.own[view]) }

// ViewNames lists the views.
func ViewNames() []string { return viewNames() }

// extended puts the user's columns behind a query's own.
func extended(query string, own []UserColumn) string {
	if len(own) == 0 {
		return query
	}
	parts := make([]string, len(own))
	for i, c := range own {
		parts[i] = "(" + c.Formula + "\n) AS " + ident(c.Name)
	}
	return "SELECT *, " + strings.Join(parts, ", ") + " FROM (" + query + ")"
}

// admitColumns reads the user's columns in their order, each of which may stand on those before it.
func (s *Session) admitColumns(ctx context.Context, conn *connection, columns []UserColumn) error {
	s.own = map[string][]UserColumn{}
	if len(columns) == 0 {
		return nil
	}
	if err := s.define(ctx, conn, slices.Sorted(maps.Keys(s.macros))); err != nil {
		return err
	}
	known := map[string]map[string]bool{}
	for view, list := range Views() {
		known[view] = map[string]bool{}
		for _, c := range list {
			known[view][c.Name] = true
		}
	}
	for _, c := range columns {
		f, err := s.admitColumn(ctx, conn, c, known)
		if err != nil {
			return fmt.Errorf("read the user's column %s: %w", c.Name, err)
		}
		if f != nil {
			f.Name = c.Name
			s.faults = append(s.faults, *f)
		}
	}
	return nil
}

var plainName = regexp.MustCompile(`^[a-z_][a-z0-9_]*$`)

func (s *Session) admitColumn(ctx context.Context, conn *connection, c UserColumn, known map[string]map[string]bool) (*ColumnFault, error) {
	if !plainName.MatchString(c.Name) {
		return &ColumnFault{Text: fmt.Sprintf("found the name %q: want small letters, digits and underscores, such as pump_work_kw", c.Name)}, nil
	}
	if view := having(known, c.Name); view != "" {
		return &ColumnFault{Text: fmt.Sprintf("the name is taken: %s has a column of that name; choose another", view)}, nil
	}
	if tree, err := conn.parse(ctx, selecting+c.Name+" FROM samples"); err != nil || tree.Error {
		return &ColumnFault{Text: fmt.Sprintf("found the name %q, which is a word of SQL: choose another", c.Name)}, err
	}
	refs, f, err := conn.expression(ctx, c.Formula, s.macros)
	if err != nil || f != nil {
		return f, err
	}
	for _, r := range refs {
		if having(known, r.name) == "" {
			return r.fault(c.Formula, unknownColumn(r.name, known)), nil
		}
	}
	var why error
	fits := 0
	for _, view := range slices.Sorted(maps.Keys(known)) {
		if slices.ContainsFunc(refs, func(r reference) bool { return !known[view][r.name] }) {
			continue
		}
		if _, err := conn.collect(ctx, extended(nullView(Views()[view]), append(s.own[view][:len(s.own[view]):len(s.own[view])], c))); err != nil {
			if ctx.Err() != nil {
				return nil, err
			}
			why = err
			continue
		}
		s.own[view] = append(s.own[view], c)
		known[view][c.Name] = true
		fits++
	}
	switch fault := new(Fault); {
	case fits > 0:
		return nil, nil
	case errors.As(why, &fault):
		return &ColumnFault{Text: fault.Message}, nil
	case why != nil:
		return &ColumnFault{Text: why.Error()}, nil
	}
	return &ColumnFault{Text: "no view has all of the columns that it names: " + list(refs)}, nil
}

// having finds a view that has a column.
func having(known map[string]map[string]bool, name string) string {
	for _, view := range viewNames() {
		if known[view][name] {
			return view
		}
	}
	return ""
}

func unknownColumn(name string, known map[string]map[string]bool) string {
	var all []string
	for _, columns := range known {
		all = append(all, slices.Collect(maps.Keys(columns))...)
	}
	slices.Sort(all)
	text := fmt.Sprintf("there is no column %q", name)
	if near := schema.Nearest(name, slices.Compact(all)); near != "" {
		return text + fmt.Sprintf(": did you mean %q?", near)
	}
	return text + ": `dynolake channels` lists them"
}

// nullView is a view of the columns' names and types without rows.
func nullView(columns []Column) string {
	parts := make([]string, len(columns))
	for i, c := range columns {
		parts[i] = "CAST(NULL AS " + c.Type + ") AS " + ident(c.Name)
	}
	return "SELECT " + strings.Join(parts, ", ") + " WHERE false"
}

// reference is a column that a formula names.
type reference struct {
	name string
	at   int // In bytes; -1 where not known.
}

func (r reference) fault(formula, text string) *ColumnFault {
	f := &ColumnFault{Text: text}
	if r.at >= 0 && r.at <= len(formula) {
		f.Line, f.Column = place(formula, r.at)
	}
	return f
}

func list(refs []reference) string {
	var names []string
	for _, r := range refs {
		if !slices.Contains(names, r.name) {
			names = append(names, r.name)
		}
	}
	return strings.Join(names, ", ")
}

const selecting = "SELECT "

// expression reads a formula as the database parses it and gives the columns that it names. Only what computes a value from the row's
// other values is admitted: no subquery, no window, no second statement, no function that reads anything but its arguments.
func (c *connection) expression(ctx context.Context, formula string, macros map[string]definition) ([]reference, *ColumnFault, error) {
	if len(formula) > longest>>4 || strings.ContainsRune(formula, 0) {
		return nil, &ColumnFault{Text: "the formula is too long, or holds a NUL"}, nil
	}
	tree, err := c.parse(ctx, selecting+formula)
	if err != nil {
		return nil, nil, err
	}
	if tree.Error {
		f := reference{at: -1}
		if at, err := tree.Position.Int64(); err == nil {
			f.at = max(int(at)-len(selecting), 0)
		}
		return nil, f.fault(formula, "the formula is no SQL expression: "+lower(tree.Message)), nil
	}
	var statement struct {
		Node map[string]any `json:"node"`
	}
	if len(tree.Statements) != 1 {
		return nil, &ColumnFault{Text: "the formula holds several statements: want one expression"}, nil
	}
	d := json.NewDecoder(bytes.NewReader(tree.Statements[0]))
	d.UseNumber()
	if err := d.Decode(&statement); err != nil {
		return nil, nil, fmt.Errorf("read the parsed formula: %w", err)
	}
	e := formulaWalker{macros: macros}
	if why := e.statement(statement.Node); why != "" {
		return nil, e.where.fault(formula, why), nil
	}
	if len(e.refs) == 0 {
		return nil, &ColumnFault{Text: "the formula names no column: want an expression over the columns of a view"}, nil
	}
	return e.refs, nil, nil
}
