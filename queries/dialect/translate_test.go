package dialect

import (
	"database/sql"
	"strings"
	"testing"

	"dynolake/queries/engine"
	"dynolake/queries/packs"
)

func translator(t testing.TB) *Translator {
	t.Helper()
	views := map[string][]Column{}
	for name, columns := range engine.Views() {
		for _, c := range columns {
			views[name] = append(views[name], Column{Name: c.Name, Type: c.Type})
		}
	}
	tr, err := New(engine.MacrosSQL(), views)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// TestEveryPackIsTranslated: with its defaults, and with each choice of a parameter that has some.
func TestEveryPackIsTranslated(t *testing.T) {
	tr := translator(t)
	set, err := packs.Load("")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range set.All() {
		tries := []map[string]string{nil}
		for _, d := range p.Params {
			if choices, ok := strings.CutPrefix(d.Type, "one of "); ok {
				for c := range strings.SplitSeq(choices, "|") {
					tries = append(tries, map[string]string{d.Name: c})
				}
			}
			switch d.Type {
			case "text":
				tries = append(tries, map[string]string{d.Name: `it's \ "so"`})
			case "boolean":
				tries = append(tries, map[string]string{d.Name: "true"})
			case "time":
				tries = append(tries, map[string]string{d.Name: "2026-03-31"})
			case "number", "integer":
				tries = append(tries, map[string]string{d.Name: "7"})
			}
		}
		for _, params := range tries {
			statement, err := p.SQL(params)
			if err != nil {
				t.Fatal(err)
			}
			script, err := tr.Translate(statement, nil)
			if err != nil {
				t.Errorf("%s with %v: %v", p.Name, params, err)
				continue
			}
			if len(script.Columns) != len(p.Columns) {
				t.Errorf("%s: %d columns, declared are %d", p.Name, len(script.Columns), len(p.Columns))
				continue
			}
			for i, c := range p.Columns {
				if script.Columns[i].Name != c.Name {
					t.Errorf("%s: column %d is %s, declared is %s", p.Name, i, script.Columns[i].Name, c.Name)
				}
			}
		}
	}
}

// TestSpellingsAreMacros: what ClickHouse spells otherwise is a macro of the same name and arguments, so that each has one definition an engine.
func TestSpellingsAreMacros(t *testing.T) {
	tr := translator(t)
	if len(tr.own) == 0 {
		t.Fatal("there is none")
	}
	for name, s := range tr.own {
		m, ok := tr.macros[name]
		if !ok {
			t.Errorf("%s is no macro", name)
			continue
		}
		if got, want := strings.Join(s.names, ", "), strings.Join(m.names, ", "); got != want {
			t.Errorf("%s has the arguments %s, the macro has %s", name, got, want)
		}
	}
}

// TestEveryMacroIsTranslated: each macro of the engine's file can be called on ClickHouse.
func TestEveryMacroIsTranslated(t *testing.T) {
	tr := translator(t)
	for _, m := range engine.Macros() {
		name, args, _ := strings.Cut(strings.TrimSuffix(m.Call, ")"), "(")
		values := make([]string, 1+strings.Count(args, ","))
		for i, a := range strings.Split(args, ", ") {
			values[i] = map[string]string{"list": "'1, 2'", "text": "'2026-03-31T08:30:00Z'", "t": "started_at"}[a]
			if values[i] == "" {
				values[i] = "duration_s"
			}
		}
		switch name {
		case "quantile_of":
			values[1] = "0.5"
		case "joined":
			values[0] = "vehicle"
		case "each_of":
			values[0] = "[1, 2]"
		}
		if _, err := tr.Translate("SELECT "+name+"("+strings.Join(values, ", ")+") AS v FROM runs", []sql.NamedArg{}); err != nil {
			t.Errorf("%s: %v", m.Call, err)
		}
	}
}
