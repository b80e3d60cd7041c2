package engine

import (
	"fmt"

	duck "github.com/duckdb/duckdb-go-bindings"

	"dynolake/queries/result"
)

// shape is how the values of a column lie in memory and what they become.
type shape struct {
	id       duck.Type
	kind     result.Kind
	scale    int       // Of a decimal.
	stored   duck.Type // Of a decimal's or an enum's numbers.
	words    []string  // Of an enum.
	length   int       // Of an array.
	children []shape   // Of a list, an array, a structure; key and value of a map.
	names    []string  // Of a structure's children.
}

// shapeOf reads a type of the database's.
func shapeOf(t duck.LogicalType) (shape, error) {
	s := shape{id: duck.GetTypeId(t)}
	switch s.id {
	case duck.TypeBoolean:
		s.kind = result.Bool
	case duck.TypeTinyInt, duck.TypeSmallInt, duck.TypeInteger, duck.TypeBigInt, duck.TypeUTinyInt, duck.TypeUSmallInt, duck.TypeUInteger:
		s.kind = result.Int
	case duck.TypeUBigInt, duck.TypeHugeInt, duck.TypeUHugeInt:
		s.kind = result.Big
	case duck.TypeFloat:
		s.kind = result.Float32
	case duck.TypeDouble:
		s.kind = result.Float64
	case duck.TypeDecimal:
		s.kind, s.scale, s.stored = result.Decimal, int(duck.DecimalScale(t)), duck.DecimalInternalType(t)
	case duck.TypeTimestamp, duck.TypeTimestampS, duck.TypeTimestampMS, duck.TypeTimestampNS, duck.TypeTimestampTZ:
		s.kind = result.Time
	case duck.TypeDate:
		s.kind = result.Date
	case duck.TypeBlob:
		s.kind = result.Bytes
	case duck.TypeVarchar, duck.TypeTime, duck.TypeInterval, duck.TypeUUID, duck.TypeSQLNull:
		s.kind = result.Text
	case duck.TypeEnum:
		s.kind, s.stored = result.Text, duck.EnumInternalType(t)
		for i := range duck.EnumDictionarySize(t) {
			s.words = append(s.words, duck.EnumDictionaryValue(t, duck.IdxT(i)))
		}
	case duck.TypeList, duck.TypeArray, duck.TypeMap, duck.TypeStruct:
		s.kind = result.Nested
		return s, s.nest(t)
	default:
		return s, fmt.Errorf("is of a type (number %d) that has no printed form: cast it to VARCHAR", s.id)
	}
	return s, nil
}

// nest reads the types within a type.
func (s *shape) nest(t duck.LogicalType) error {
	var inner []duck.LogicalType
	switch s.id {
	case duck.TypeList:
		inner = append(inner, duck.ListTypeChildType(t))
	case duck.TypeArray:
		inner, s.length = append(inner, duck.ArrayTypeChildType(t)), int(duck.ArrayTypeArraySize(t))
	case duck.TypeMap:
		inner = append(inner, duck.MapTypeKeyType(t), duck.MapTypeValueType(t))
	case duck.TypeStruct:
		for i := range duck.StructTypeChildCount(t) {
			inner, s.names = append(inner, duck.StructTypeChildType(t, i)), append(s.names, duck.StructTypeChildName(t, i))
		}
	}
	var err error
	for i := range inner {
		child, e := shapeOf(inner[i])
		if e != nil {
			err = e
		}
		s.children = append(s.children, child)
		duck.DestroyLogicalType(&inner[i])
	}
	return err
}
