package schema

import (
	"slices"
	"strings"
	"testing"
)

// Each field id means one column: within a table it is there once, and where tables share one they share its name.
func TestTableFieldIDs(t *testing.T) {
	types := []string{"float32", "float64", "int32", "int64", "string", "bool", "timestamp", "list_float64", "list_string"}
	names := map[int]string{}
	for _, table := range Tables() {
		seen := map[int]string{}
		named := map[string]bool{}
		for _, c := range table.Columns {
			ids := []int{c.ID}
			if strings.HasPrefix(c.Type, "list_") {
				ids = append(ids, c.ID+ElementID)
			}
			for _, id := range ids {
				if id <= 0 || seen[id] != "" {
					t.Errorf("%s.%s: field id %d is %q already", table.Name, c.Name, id, seen[id])
				}
				seen[id] = c.Name
				if other, ok := names[id]; ok && other != c.Name {
					t.Errorf("%s.%s: field id %d is %q in another table", table.Name, c.Name, id, other)
				}
				names[id] = c.Name
			}
			if named[c.Name] {
				t.Errorf("%s.%s: named twice", table.Name, c.Name)
			}
			named[c.Name] = true
			if !slices.Contains(types, c.Type) {
				t.Errorf("%s.%s: type %q", table.Name, c.Name, c.Type)
			}
			if c.Meaning == "" {
				t.Errorf("%s.%s: no meaning", table.Name, c.Name)
			}
		}
	}
}

func TestTablesFollowTheCatalogue(t *testing.T) {
	samples, _ := LookupTable("samples")
	curves, _ := LookupTable("curves")
	if len(samples.Columns) != 1+len(Columns()) {
		t.Errorf("samples has %d columns, want run_id and %d", len(samples.Columns), len(Columns()))
	}
	for name, want := range map[string]struct {
		id  int
		typ string
	}{
		"drive_ratio": {1003, "float32"}, "drive_ratio_p05": {4003, "float32"}, "drive_ratio_p95": {6003, "float32"},
		"gear": {35, "float32"}, "drive_basis": {1002, "string"}, "t_s": {1, "float64"},
	} {
		c, ok := curves.Column(name)
		if !ok || c.ID != want.id || c.Type != want.typ {
			t.Errorf("curves.%s: got id %d type %q, want %+v", name, c.ID, c.Type, want)
		}
	}
	if c, _ := samples.Column("gear"); c.Type != "int32" {
		t.Errorf("samples.gear: type %q, want int32", c.Type)
	}
	if _, ok := LookupTable("nothing"); ok {
		t.Error("found a table that is not there")
	}
}
