package iceberg

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"dynolake/schema"
)

// Ids of the partition: of the column that readers see, beyond every stored column's, and of the partition field itself.
const (
	MonthID     = 9000
	partitionID = 1000
)

// form is a schema as table metadata has it.
type form struct {
	Type       string  `json:"type"`
	Fields     []field `json:"fields"`
	ID         int     `json:"schema-id"`
	Identifier []int   `json:"identifier-field-ids"`
}

type field struct {
	Type     kind   `json:"type"`
	ID       int    `json:"id"`
	Name     string `json:"name"`
	Required bool   `json:"required"`
	Doc      string `json:"doc,omitempty"`
}

// kind is a type: a primitive's name, or the object of a list.
type kind struct{ any }

type sequence struct {
	Type     string `json:"type"` // "list".
	ID       int    `json:"element-id"`
	Element  string `json:"element"`
	Required bool   `json:"element-required"`
}

func (k kind) MarshalJSON() ([]byte, error) { return json.Marshal(k.any) }

func (k *kind) UnmarshalJSON(text []byte) error {
	var name string
	if err := json.Unmarshal(text, &name); err == nil {
		k.any = name
		return nil
	}
	var l sequence
	err := json.Unmarshal(text, &l)
	k.any = l
	return err
}

// columns gives a table's schema: the stored columns under their own ids, then month.
func columns(id int, t schema.Table) form {
	f := form{Type: "struct", ID: id, Identifier: []int{}}
	for _, c := range t.Columns {
		f.Fields = append(f.Fields, field{ID: c.ID, Name: c.Name, Type: kindOf(c), Doc: doc(c)})
	}
	f.Fields = append(f.Fields, field{ID: MonthID, Name: "month", Type: kind{"string"}, Doc: "month of the run's start (UTC), YYYY-MM, or unknown; the partition"})
	return f
}

// highest is the highest id in use, elements of lists included.
func (f form) highest() int {
	top := 0
	for _, c := range f.Fields {
		top = max(top, c.ID)
		if l, ok := c.Type.any.(sequence); ok {
			top = max(top, l.ID)
		}
	}
	return top
}

func doc(c schema.Column) string {
	text := c.Meaning
	if c.Unit != "" && c.Unit != "1" {
		text += " [" + strings.TrimSpace(c.Unit+" "+string(c.Reference)) + "]"
	}
	return text
}

func kindOf(c schema.Column) kind {
	if element, ok := strings.CutPrefix(c.Type, "list_"); ok {
		return kind{sequence{Type: "list", ID: c.ID + schema.ElementID, Element: primitive(element)}}
	}
	return kind{primitive(c.Type)}
}

func primitive(name string) string {
	switch name {
	case "float32":
		return "float"
	case "float64":
		return "double"
	case "int32":
		return "int"
	case "int64":
		return "long"
	case "bool":
		return "boolean"
	case "timestamp":
		return "timestamptz"
	}
	return "string"
}

// spec is a partition spec.
type spec struct {
	ID     int         `json:"spec-id"`
	Fields []specField `json:"fields"`
}

type specField struct {
	Source    int    `json:"source-id"`
	ID        int    `json:"field-id"`
	Name      string `json:"name"`
	Transform string `json:"transform"`
}

func byMonth() spec {
	return spec{Fields: []specField{{Source: MonthID, ID: partitionID, Name: "month", Transform: "identity"}}}
}

// order is how large files of a table lie. Only runs has the columns that the lake's order goes by; the rows of other tables
// lie in the order of their runs, which a sort order cannot say.
func order(t schema.Table) []sortOrder {
	list := []sortOrder{{Fields: []sortField{}}}
	if t.Name != "runs" {
		return list
	}
	o := sortOrder{ID: 1}
	for _, name := range OrderedBy() {
		c, _ := t.Column(name)
		o.Fields = append(o.Fields, sortField{Transform: "identity", Source: c.ID, Direction: "asc", Nulls: "nulls-first"})
	}
	return append(list, o)
}

// OrderedBy lists the columns of runs that large files are sorted by.
func OrderedBy() []string { return []string{"platform", "vehicle", "started_at"} }

// adopt makes the table's columns the current schema, as a new one where they differ. A column that is published stays.
func (m *metadata) adopt(t schema.Table) (changed bool, err error) {
	next := 0
	for _, raw := range m.Schemas {
		var old form
		if err := json.Unmarshal(raw, &old); err != nil {
			return false, fmt.Errorf("read the published schema: %w", err)
		}
		next = max(next, old.ID+1)
		if old.ID != m.CurrentSchema {
			continue
		}
		now := columns(old.ID, t)
		if text, err := json.Marshal(now); err != nil {
			return false, err
		} else if same(text, raw) {
			return false, nil
		}
		for _, f := range old.Fields {
			if !slices.ContainsFunc(now.Fields, func(n field) bool { return n.ID == f.ID && n.Type == f.Type }) {
				return false, fmt.Errorf("column %s (id %d) is published and unknown here: use the newer dynolake that published it", f.Name, f.ID)
			}
		}
	}
	now := columns(next, t)
	text, err := json.Marshal(now)
	if err != nil {
		return false, err
	}
	m.Schemas = append(m.Schemas, text)
	m.CurrentSchema, m.LastColumn = next, max(m.LastColumn, now.highest())
	return true, nil
}

// same compares two JSON texts by what they say.
func same(a, b []byte) bool {
	var x, y any
	if json.Unmarshal(a, &x) != nil || json.Unmarshal(b, &y) != nil {
		return false
	}
	p, _ := json.Marshal(x) // What was decoded can be encoded.
	q, _ := json.Marshal(y)
	return string(p) == string(q)
}
