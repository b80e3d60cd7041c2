package config

import (
	"strings"
	"testing"
)

func TestUserColumns(t *testing.T) {
	c := must(t, map[string]string{"columns.yaml": `columns:
  - name: ratio
    unit: "1"
    formula: map_kpa / baro_kpa
    meaning: manifold over barometric
  - name: folded
    formula: |
      CASE WHEN boost_kpa > 35
        THEN bost_kpa END
  - name: quoted
    formula: "bost_kpa * 2"
  - formula: map_kpa
  - {name: empty}
  - {name: ratio, formula: map_kpa}
  - {name: odd, formula: map_kpa, untis: kPa}
`})
	if len(c.Columns) != 3 || c.Columns[0].Unit != "1" || c.Columns[0].Meaning != "manifold over barometric" {
		t.Fatalf("got %+v", c.Columns)
	}
	for i, want := range []string{"columns.yaml:12:5 name: found a column without name", "columns.yaml:13:5 formula: found no formula of empty", `columns.yaml:14:12 name: found "ratio" a second time: line 2`,
		`columns.yaml:15:35 untis: found the unknown field "untis": did you mean "unit"?`} {
		if i >= len(c.Problems) || !strings.Contains(c.Problems[i].Error(), want) {
			t.Errorf("problem %d of %v, want %s", i, c.Problems, want)
		}
	}
	for _, p := range []struct {
		column, line, at int
		want             string
	}{
		{0, 1, 11, "columns.yaml:4:24 ratio: x"}, {0, 0, 0, "columns.yaml:2:11 ratio: x"}, {1, 2, 8, "columns.yaml:9:14 folded: x"}, {2, 1, 1, "columns.yaml:11:15 quoted: x"},
	} {
		if err := c.Columns[p.column].Fault(p.line, p.at, "x"); !strings.HasSuffix(err.Error(), p.want) {
			t.Errorf("Fault = %v, want %s", err, p.want)
		}
	}
	if c := must(t, map[string]string{"columns.yaml": "columns: [1, 2\nx: 1", "vehicles.yaml": "vehicles: [{id: a}]"}); len(c.Problems) != 1 || len(c.Vehicles) != 1 {
		t.Errorf("a broken columns.yaml: problems %v, %d vehicles", c.Problems, len(c.Vehicles))
	}
}
