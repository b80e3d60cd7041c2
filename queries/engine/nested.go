package engine

import (
	"fmt"

	duck "github.com/duckdb/duckdb-go-bindings"
)

// stretch is where a list's elements lie among the elements of all lists of its vector.
type stretch struct{ offset, length uint64 }

// readNested copies lists and arrays as []any, structures and maps as map[string]any.
func (s *shape) readNested(v duck.Vector, n int) []any {
	switch s.id {
	case duck.TypeArray:
		elements := s.children[0].read(duck.ArrayVectorGetChild(v), n*s.length)
		return present(v, n, func(i int) any { return elements[i*s.length : (i+1)*s.length : (i+1)*s.length] })
	case duck.TypeStruct:
		columns := make([][]any, len(s.children))
		for k := range s.children {
			columns[k] = s.children[k].read(duck.StructVectorGetChild(v, duck.IdxT(k)), n)
		}
		return present(v, n, func(i int) any {
			m := make(map[string]any, len(columns))
			for k, name := range s.names {
				m[name] = columns[k][i]
			}
			return m
		})
	}
	entries, size := duck.ListVectorGetChild(v), int(duck.ListVectorGetSize(v))
	if s.id == duck.TypeList {
		elements := s.children[0].read(entries, size)
		return each(v, n, func(x stretch) any { return elements[x.offset : x.offset+x.length : x.offset+x.length] })
	}
	keys := s.children[0].read(duck.StructVectorGetChild(entries, 0), size)
	values := s.children[1].read(duck.StructVectorGetChild(entries, 1), size)
	return each(v, n, func(x stretch) any {
		m := make(map[string]any, x.length)
		for i := x.offset; i < x.offset+x.length; i++ {
			m[fmt.Sprint(keys[i])] = values[i]
		}
		return m
	})
}

// present fills a column from values that are not in the vector itself, NULL where its mask says so.
func present(v duck.Vector, n int, value func(i int) any) []any {
	out := make([]any, n)
	valid := (*uint64)(duck.VectorGetValidity(v))
	for i := range out {
		if isValid(valid, i) {
			out[i] = value(i)
		}
	}
	return out
}
