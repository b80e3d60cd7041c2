package schema

import (
	"reflect"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
)

// The embedded files are YAML: a reader of all of YAML finds the same in them.
func TestEmbeddedFilesAreYAML(t *testing.T) {
	var channels struct{ Measured, Derived []Column }
	decode(t, channelsYAML, &channels)
	var tables []struct {
		Table, Meaning, Catalogue string
		Columns                   []Column
	}
	decode(t, tablesYAML, &tables)
	var units []Unit
	decode(t, unitsYAML, &units)

	got := mustRead("channels.yaml", channelsYAML)
	if len(got) != 3 || got[1].name != "measured" || got[2].name != "derived" || len(got[0].entries) > 0 {
		t.Fatalf("channels.yaml: %d lists, want measured and derived", len(got))
	}
	same(t, "measured", fillAll[Column]("", got[1].entries), channels.Measured)
	same(t, "derived", fillAll[Column]("", got[2].entries), channels.Derived)
	same(t, "units", fillAll[Unit]("", mustRead("units.yaml", unitsYAML)[0].entries), units)
	sections := mustRead("tables.yaml", tablesYAML)[1:]
	if len(sections) != len(tables) {
		t.Fatalf("tables.yaml: %d tables, want %d", len(sections), len(tables))
	}
	for i, want := range tables {
		s := sections[i]
		same(t, want.Table, s.said, map[string]string{"table": want.Table, "meaning": want.Meaning, "columns": ""}, map[string]string{"table": want.Table, "meaning": want.Meaning, "catalogue": want.Catalogue, "columns": ""})
		same(t, want.Table, fillAll[Column]("", s.entries), want.Columns)
	}
}

func decode(t *testing.T, text string, into any) {
	t.Helper()
	if err := yaml.UnmarshalWithOptions([]byte(text), into, yaml.Strict()); err != nil {
		t.Fatal(err)
	}
}

// same compares with each of what may be wanted.
func same(t *testing.T, name string, got any, want ...any) {
	t.Helper()
	for _, w := range want {
		if reflect.DeepEqual(got, w) {
			return
		}
	}
	t.Errorf("%s:\n got %+v\nwant %+v", name, got, want)
}

func TestSectionsRefuse(t *testing.T) {
	for text, want := range map[string]string{
		"- {name: a, name: b}":      "new key",
		"- {name: a, unit: b: c}":   "double quotes",
		"- {name: a #b}":            "double quotes",
		"- {name: 'a'}":             "double quotes",
		"- {name: \"a}":             "quote at its end",
		"- {name: a":                "}",
		"- {name: [a, b}":           "or ]",
		"- {name: [a,b]}":           "comma and a blank",
		"- {name: {a: b}}":          "double quotes",
		"# first\n\nmeasured\n":     "line 3",
		"  meaning: a":              "before any list",
		"a:\n  meaning: b: c":       "want name: value",
		"a:\n- {name: a, unit: b}}": "line 2",
	} {
		if list, err := sections(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, %v, want an error with %q", text, list, err, want)
		}
	}
}

func TestFillRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"- {name: a, title: b}":         "title",
		"- {name: [a, b]}":              "2 values",
		"- {id: one}":                   "ID",
		"- {range: [0, high]}":          "Range",
		"- {name: a, quantiles: maybe}": "Quantiles",
	} {
		list, err := sections(text)
		if err != nil {
			t.Fatal(err)
		}
		if err := list[0].entries[0].fill(&Column{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want an error with %q", text, err, want)
		}
	}
}

func BenchmarkTables(b *testing.B) {
	for b.Loop() {
		mustRead("channels.yaml", channelsYAML)
	}
}
