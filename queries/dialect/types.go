package dialect

import (
	"fmt"
	"strconv"
	"strings"
)

// Base is what a value is, save for decimals' scale and what lists are of.
type Base uint8

// The types that are translated, numbers in the order in which DuckDB widens them.
const (
	Null Base = iota // Of NULL itself.
	Boolean
	Integer // 32 bits.
	BigInt  // 64 bits.
	HugeInt // 128 bits.
	Decimal
	Float // 32 bits.
	Double
	Text
	Date
	Timestamp   // Without a zone.
	TimestampTZ // An instant.
	List
)

// Type is the type of a value or column as DuckDB has it.
type Type struct {
	Base  Base
	Scale int  // Of a decimal.
	Of    Base // Of a list.
}

func (b Base) String() string {
	return [...]string{`"NULL"`, "BOOLEAN", "INTEGER", "BIGINT", "HUGEINT", "DECIMAL", "FLOAT", "DOUBLE", "VARCHAR", "DATE", "TIMESTAMP", "TIMESTAMP WITH TIME ZONE", "LIST"}[b]
}

// String writes a type as DuckDB names it.
func (t Type) String() string {
	switch t.Base {
	case Decimal:
		return fmt.Sprintf("DECIMAL(38,%d)", t.Scale)
	case List:
		return t.Of.String() + "[]"
	}
	return t.Base.String()
}

// Number reports whether it is one.
func (t Type) Number() bool { return t.Base >= Integer && t.Base <= Double }

func (t Type) whole() bool { return t.Base >= Integer && t.Base <= HugeInt }

func (t Type) time() bool { return t.Base >= Date && t.Base <= TimestampTZ }

// click names ClickHouse's type of the same values. NULL alone is an integer, as DuckDB stores it.
func (t Type) click() string {
	if t.Base == List {
		return "Array(" + Type{Base: t.Of}.nullable() + ")"
	}
	switch t.Base {
	case Boolean:
		return "Bool"
	case BigInt:
		return "Int64"
	case HugeInt:
		return "Int128"
	case Decimal:
		return fmt.Sprintf("Decimal(38, %d)", t.Scale)
	case Float:
		return "Float32"
	case Double:
		return "Float64"
	case Text:
		return "String"
	case Date:
		return "Date32"
	case Timestamp, TimestampTZ:
		return "DateTime64(6, 'UTC')"
	}
	return "Int32"
}

func (t Type) nullable() string {
	if t.Base == List {
		return t.click() // ClickHouse has no list that is NULL.
	}
	return "Nullable(" + t.click() + ")"
}

func baseNames() map[string]Base {
	return map[string]Base{"boolean": Boolean, "bool": Boolean, "integer": Integer, "int": Integer, "int4": Integer, "bigint": BigInt, "int8": BigInt, "long": BigInt, "hugeint": HugeInt,
		"float": Float, "float4": Float, "real": Float, "double": Double, "float8": Double, "varchar": Text, "text": Text, "string": Text, "char": Text, "date": Date,
		"timestamp": Timestamp, "datetime": Timestamp, "timestamptz": TimestampTZ}
}

// ParseType reads a type as DuckDB names it.
func ParseType(name string) (t Type, err error) {
	defer catch(name, &err)
	p := &parser{lexemes: lex(name)}
	t = p.typeName()
	p.mustEnd()
	return t, nil
}

// widest is the type to which DuckDB brings two of them; false where there is none.
func widest(a, b Type) (Type, bool) {
	switch {
	case a == b, b.Base == Null:
		return a, true
	case a.Base == Null:
		return b, true
	case a.Number() && b.Number():
		wider := a
		if b.Base > a.Base {
			wider = b
		}
		if wider.Base == Decimal {
			wider.Scale = max(a.Scale, b.Scale)
		}
		return wider, true
	case a.time() && b.time():
		return Type{Base: max(a.Base, b.Base)}, true
	case a.Base == List && b.Base == List:
		of, ok := widest(Type{Base: a.Of}, Type{Base: b.Of})
		return Type{Base: List, Of: of.Base}, ok
	}
	return a, false
}

func itoa(n int) string { return strconv.Itoa(n) }

func atoi(l lexeme) int {
	n, err := strconv.Atoi(l.text)
	if err != nil || n < 0 || n > 38 {
		fail(l.at, "found %q, want a number from 0 to 38", l.raw)
	}
	return n
}

// quoteText writes a text as ClickHouse reads it, where a backslash escapes.
func quoteText(s string) string { return quote(s, "'") }

// quoteName writes a name as ClickHouse reads it.
func quoteName(s string) string { return quote(s, "`") }

func quote(s, mark string) string {
	if strings.ContainsAny(s, `\`+mark) {
		s = strings.ReplaceAll(strings.ReplaceAll(s, `\`, `\\`), mark, `\`+mark)
	}
	return mark + s + mark
}
