package dialect

import (
	"database/sql"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Column is a column of a view or of an answer.
type Column struct {
	Name, Type string // The type as DuckDB names it.
}

// Script is what to run on ClickHouse, in one session that nothing else uses meanwhile.
type Script struct {
	Steps   []Step   // To run first, in order.
	Answer  string   // The SELECT whose rows are the answer.
	Drop    []string // To run last, whatever became of the rest.
	Columns []Column // Of the answer.
}

// Step makes one temporary table, which later ones read.
type Step struct{ Name, SQL string }

// Translator knows the views that statements read and the macros that they may use.
type Translator struct {
	views  map[string]*relation
	macros map[string]*macro
	own    map[string]*spelling

	functions  map[string]function
	lists      map[string]listFunction
	aggregates map[string]aggregate
	ranks      map[string]bool
}

// New reads the macros as DuckDB has them (CREATE MACRO …) and the columns of the views.
func New(macros string, views map[string][]Column) (*Translator, error) {
	t := &Translator{views: map[string]*relation{}, functions: functions(), lists: listFunctions(), aggregates: aggregates(), ranks: ranks()}
	var err error
	if t.own, err = spellings(); err != nil {
		return nil, fmt.Errorf("read ClickHouse's macros: %w", err)
	}
	if t.macros, err = parseMacros(macros); err != nil {
		return nil, fmt.Errorf("read the macros: %w", err)
	}
	for name, columns := range views {
		r := &relation{table: quoteName(name), stored: true}
		for _, c := range columns {
			kind, err := ParseType(c.Type)
			if err != nil {
				return nil, fmt.Errorf("read the type of %s.%s: %w", name, c.Name, err)
			}
			r.columns = append(r.columns, field{name: c.Name, sql: quoteName(c.Name), kind: kind, absent: kind.Base == List})
		}
		t.views[strings.ToLower(name)] = r
	}
	return t, nil
}

// Translate turns one SELECT as DuckDB reads it into a script for ClickHouse. What cannot be translated so that the answer is the same is an
// error of type *Refused.
func (t *Translator) Translate(statement string, args []sql.NamedArg) (script Script, err error) {
	defer catch(statement, &err)
	q, read := parse(statement)
	w := &writer{translator: t, args: map[string]expr{}, read: read}
	for _, a := range args {
		w.args[a.Name] = argument(a)
	}
	c := w.query(q, &env{})
	kinds := c.kinds()
	script.Answer = c.write(w, kinds, true)
	for i, name := range c.names() {
		script.Columns = append(script.Columns, Column{name, kinds[i].String()})
	}
	for _, s := range slices.Backward(w.steps) {
		script.Drop = append(script.Drop, "DROP TEMPORARY TABLE IF EXISTS "+quoteName(s.Name))
	}
	script.Steps = w.steps
	return script, nil
}

// argument turns the value of a parameter into a literal.
func argument(a sql.NamedArg) expr {
	switch v := a.Value.(type) {
	case nil:
		return &literal{Null, "NULL", -1}
	case bool:
		return &literal{Boolean, strconv.FormatBool(v), -1}
	case int:
		return whole(int64(v))
	case int32:
		return whole(int64(v))
	case int64:
		return whole(v)
	case float32:
		return double(float64(v))
	case float64:
		return double(v)
	case string:
		return &cast{&literal{Text, v, -1}, Type{Base: Text}, false, -1}
	case time.Time:
		return &cast{&literal{Text, v.UTC().Format("2006-01-02T15:04:05.999999Z"), -1}, Type{Base: TimestampTZ}, false, -1}
	}
	fail(-1, "parameter %s: a %T is no value that a statement can take", a.Name, a.Value)
	return nil
}

func whole(n int64) expr {
	return &cast{signed(strconv.FormatInt(n, 10), Integer), Type{Base: BigInt}, false, -1}
}

func double(x float64) expr {
	if math.IsNaN(x) {
		return &literal{Null, "NULL", -1}
	}
	if math.IsInf(x, 0) {
		fail(-1, "a number without end is no value that a statement can take")
	}
	return signed(strconv.FormatFloat(x, 'e', -1, 64), Double)
}

func signed(digits string, kind Base) expr {
	if rest, ok := strings.CutPrefix(digits, "-"); ok {
		return &unary{"-", &literal{kind, rest, -1}, -1}
	}
	return &literal{kind, digits, -1}
}

// writer writes one statement's script.
type writer struct {
	translator *Translator
	args       map[string]expr
	steps      []Step
	aliases    int
	read       map[string]int // How often the statement reads each table.
	depth      int
	loose      bool // A list may give rows here.
}

// alias makes a name for a table that nothing else in the statement has.
func (w *writer) alias() string {
	w.aliases++
	return "_t" + itoa(w.aliases)
}

// part makes a part of a WITH a query in FROM where it is read once, else a step.
func (w *writer) part(name string, c *compound) *relation {
	if w.read[strings.ToLower(name)] > 1 {
		return w.step(name, c)
	}
	r := w.derived(c)
	r.table = "(" + r.table + ")"
	return r
}

// step makes a query a temporary table.
func (w *writer) step(name string, c *compound) *relation {
	kinds := c.kinds()
	names := unique(c.names())
	r := &relation{stored: true}
	declared := make([]string, len(names))
	for i, n := range names {
		r.columns = append(r.columns, field{name: n, sql: quoteName(n), kind: kinds[i], absent: c.absent(i)})
		declared[i] = quoteName(n) + " " + kinds[i].nullable()
	}
	stepName := fmt.Sprintf("step_%d_%s", len(w.steps)+1, name)
	r.table = quoteName(stepName)
	w.steps = append(w.steps, Step{stepName, "CREATE TEMPORARY TABLE " + r.table + " (" + strings.Join(declared, ", ") + ") ENGINE = Memory AS " + c.write(w, kinds, false)})
	return r
}

// unique makes names differ as DuckDB does: the second a is a_1.
func unique(names []string) []string {
	seen := map[string]int{}
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = n
		for seen[strings.ToLower(out[i])] > 0 {
			out[i] = n + "_" + itoa(seen[strings.ToLower(n)])
			seen[strings.ToLower(n)]++
		}
		seen[strings.ToLower(out[i])]++
	}
	return out
}
