package columnar

import (
	"strings"

	"github.com/apache/arrow-go/v18/arrow"

	"dynolake/schema"
)

// column is a field of the file, or of a structure in it, that may be a channel.
type column struct {
	name    string // outer.inner where it is within a structure.
	unit    string
	comment string
	path    []int // Indices of the field and of those within it.
	kind    arrow.DataType
	list    bool // Each row holds a list of kind.
}

// deepest is how far structures may lie within one another.
const deepest = 8

// columns flattens a schema. What is no channel is named in left.
func columns(s *arrow.Schema) (list []column, left []string) {
	for i, f := range s.Fields() {
		flatten(f, "", []int{i}, &list, &left)
	}
	return list, left
}

func flatten(f arrow.Field, outer string, path []int, list *[]column, left *[]string) {
	name := f.Name
	if outer != "" {
		name = outer + "." + f.Name
	}
	if s, ok := f.Type.(*arrow.StructType); ok && len(path) < deepest {
		for i, inner := range s.Fields() {
			flatten(inner, name, append(path[:len(path):len(path)], i), list, left)
		}
		return
	}
	c := column{name: name, path: path, kind: f.Type}
	if l, ok := f.Type.(arrow.ListLikeType); ok && f.Type.ID() != arrow.MAP {
		c.kind, c.list = l.Elem(), true
	}
	if !simple(c.kind) {
		*left = append(*left, name+" ("+f.Type.String()+")")
		return
	}
	c.unit, c.comment = metadata(f)
	if bare, unit := bracketed(name); unit != "" {
		c.name = bare
		if c.unit == "" {
			c.unit = unit
		}
	}
	*list = append(*list, c)
}

// simple reports whether a cell of the type is a number, a text or a time.
func simple(t arrow.DataType) bool {
	if d, ok := t.(*arrow.DictionaryType); ok {
		t = d.ValueType
	}
	switch t.ID() {
	case arrow.BOOL, arrow.UINT8, arrow.INT8, arrow.UINT16, arrow.INT16, arrow.UINT32, arrow.INT32, arrow.UINT64, arrow.INT64, arrow.FLOAT16, arrow.FLOAT32,
		arrow.FLOAT64, arrow.STRING, arrow.LARGE_STRING, arrow.STRING_VIEW, arrow.DATE32, arrow.DATE64, arrow.TIMESTAMP, arrow.TIME32, arrow.TIME64, arrow.DURATION,
		arrow.DECIMAL128, arrow.DECIMAL256:
		return true
	}
	return false
}

func metadata(f arrow.Field) (unit, comment string) {
	for i, k := range f.Metadata.Keys() {
		v := strings.TrimSpace(f.Metadata.Values()[i])
		switch strings.ToLower(k) {
		case "unit", "units":
			unit = v
		case "comment", "description", "meaning":
			comment = v
		}
	}
	return unit, comment
}

// bracketed parts a unit in brackets from the name before it. Round ones hold one only where it is known.
func bracketed(name string) (bare, unit string) {
	name = strings.TrimSpace(name)
	for _, pair := range []string{"[]", "()"} {
		i := strings.LastIndexByte(name, pair[0])
		if i <= 0 || name[len(name)-1] != pair[1] {
			continue
		}
		inner := strings.TrimSpace(name[i+1 : len(name)-1])
		if _, known := schema.ParseUnit(inner); known || pair == "[]" && strings.Trim(inner, "0123456789") != "" {
			return strings.TrimSpace(name[:i]), inner
		}
	}
	return name, ""
}
