package iceberg

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/apache/iceberg-go"

	"dynolake/schema"
)

// Ids of the partition: of the column that readers see, beyond every stored column's, and of the partition field itself.
const (
	MonthID     = 9000
	partitionID = 1000
)

// columns gives a table's Iceberg schema: the stored columns under their own ids, then month.
func columns(id int, t schema.Table) *iceberg.Schema {
	fields := make([]iceberg.NestedField, 0, len(t.Columns)+1)
	for _, c := range t.Columns {
		fields = append(fields, iceberg.NestedField{ID: c.ID, Name: c.Name, Type: typeOf(c), Doc: doc(c)})
	}
	fields = append(fields, iceberg.NestedField{ID: MonthID, Name: "month", Type: iceberg.PrimitiveTypes.String,
		Doc: "month of the run's start (UTC), YYYY-MM, or unknown; the partition"})
	return iceberg.NewSchema(id, fields...)
}

func doc(c schema.Column) string {
	text := c.Meaning
	if c.Unit != "" && c.Unit != "1" {
		text += " [" + strings.TrimSpace(c.Unit+" "+string(c.Reference)) + "]"
	}
	return text
}

func typeOf(c schema.Column) iceberg.Type {
	if kind, ok := strings.CutPrefix(c.Type, "list_"); ok {
		return &iceberg.ListType{ElementID: c.ID + schema.ElementID, Element: typeOf(schema.Column{Type: kind})}
	}
	switch c.Type {
	case "float32":
		return iceberg.PrimitiveTypes.Float32
	case "float64":
		return iceberg.PrimitiveTypes.Float64
	case "int32":
		return iceberg.PrimitiveTypes.Int32
	case "int64":
		return iceberg.PrimitiveTypes.Int64
	case "bool":
		return iceberg.PrimitiveTypes.Bool
	case "timestamp":
		return iceberg.PrimitiveTypes.TimestampTz
	}
	return iceberg.PrimitiveTypes.String
}

func byMonth() iceberg.PartitionSpec {
	return iceberg.NewPartitionSpecID(0, iceberg.PartitionField{SourceIDs: []int{MonthID}, FieldID: partitionID, Name: "month", Transform: iceberg.IdentityTransform{}})
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
		var old iceberg.Schema
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
		for _, f := range old.Fields() {
			if !slices.ContainsFunc(now.Fields(), func(n iceberg.NestedField) bool { return n.ID == f.ID && n.Type.Equals(f.Type) }) {
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
	m.CurrentSchema, m.LastColumn = next, max(m.LastColumn, now.HighestFieldID())
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
