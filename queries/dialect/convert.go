package dialect

import (
	"strings"
)

// widestOf is the type that all values are brought to. A text literal becomes what stands beside it.
func widestOf(at int, values []value) Type {
	var kind Type
	texts := false
	for _, v := range values {
		if v.lit != nil && v.lit.kind == Text {
			texts = true
			continue
		}
		wider, ok := widest(kind, v.kind)
		if !ok {
			fail(at, "%s and %s do not go together: cast one of them", kind, v.kind)
		}
		kind = wider
	}
	if texts && kind.Base == Null {
		kind.Base = Text
	}
	if texts && (kind.Base == Boolean || kind.Base == List) {
		fail(at, "%s and a text do not go together: cast one of them", kind)
	}
	return kind
}

// convert writes a value as one of a wider type, or of the same.
func convert(v value, to Type) string {
	from := v.kind
	switch {
	case from.Base == Null:
		if to.Base == List {
			return "CAST([] AS " + to.click() + ")"
		}
		return "CAST(NULL AS " + to.nullable() + ")"
	case from == to && v.flag:
		return "toBool(" + v.sql + ")"
	case from == to:
		return v.sql
	case v.lit != nil && v.lit.kind == Text:
		return explicit(v, to, false, v.lit.at)
	case to.Base == Double && v.lit != nil:
		return doubleLiteral(v)
	case to.Base == Float && v.lit != nil && v.lit.kind == Decimal:
		return "toFloat32(" + doubleLiteral(v) + ")"
	}
	switch to.Base {
	case HugeInt:
		return "toInt128(" + v.sql + ")"
	case BigInt:
		return "toInt64(" + v.sql + ")"
	case Decimal:
		return "toDecimal128(" + v.sql + ", " + itoa(to.Scale) + ")"
	case Float:
		return "toFloat32(" + v.sql + ")"
	case Double:
		return "toFloat64(" + v.sql + ")"
	case Timestamp, TimestampTZ:
		return "toDateTime64(" + v.sql + ", 6, 'UTC')"
	}
	return "CAST(" + v.sql + " AS " + to.nullable() + ")"
}

// doubleLiteral writes a number that stands in the statement as ClickHouse reads one of double precision.
func doubleLiteral(v value) string {
	digits, negative := strings.CutPrefix(v.lit.text, "-")
	switch {
	case v.kind.Base == HugeInt:
		return "toFloat64(" + v.sql + ")"
	case v.lit.kind == Integer:
		digits += "."
	case strings.HasPrefix(digits, "."):
		digits = "0" + digits
	}
	if negative {
		return "-" + digits
	}
	return digits
}

func (w *writer) cast(x *cast, e *env) value {
	v := w.value(x.value, e)
	return value{sql: explicit(v, x.to, x.try, x.at), kind: x.to, stored: v.stored && v.kind == x.to, simple: true}
}

// explicit writes CAST(v AS to).
func explicit(v value, to Type, try bool, at int) string {
	from := v.kind
	switch {
	case from == to || from.Base == Null:
		return convert(v, to)
	case to.Base == Text:
		return textOf(v, at)
	case from.Base == Text:
		return fromText(v.sql, to, try, at)
	case from.Number() && to.Number():
		if text, ok := numberCast(v, to); ok {
			return text
		}
	case from.Base == Boolean && to.Number():
		return "CAST(" + v.sql + " AS " + to.nullable() + ")"
	case from.Number() && to.Base == Boolean:
		return "toBool(" + v.in() + " <> 0)"
	case from.time() && to.Base == Date:
		return "toDate32(" + v.sql + ")"
	case from.time() && to.time():
		return convert(v, to)
	}
	fail(at, "a cast of %s to %s is not translated", from, to)
	return ""
}

// numberCast writes a cast of one kind of number to another.
func numberCast(v value, to Type) (string, bool) {
	from := v.kind
	switch {
	case to.Base >= from.Base && to.Base != Decimal, from.whole() && to.Base == Decimal:
		return convert(v, to), true
	case from.whole() && to.whole():
		return "accurateCast(" + v.sql + ", '" + to.nullable() + "')", true
	case from.Base >= Float && to.whole(): // To the nearest, of two the even one.
		return "accurateCast(round(" + v.sql + "), '" + to.nullable() + "')", true
	case from.Base == Double && to.Base == Float:
		return "toFloat32(" + v.sql + ")", true
	}
	return "", false
}

func fromText(text string, to Type, try bool, at int) string {
	if try && to.Base != Double {
		fail(at, "TRY_CAST of a text to %s is not translated, to DOUBLE it is", to)
	}
	switch {
	case try:
		return "toFloat64OrNull(trimBoth(" + text + "))"
	case to.Number():
		return "CAST(trimBoth(" + text + ") AS " + to.nullable() + ")"
	case to.Base == Date:
		return "CAST(" + text + " AS Nullable(Date32))"
	case to.Base == Timestamp, to.Base == TimestampTZ:
		return "parseDateTime64BestEffort(" + text + ", 6, 'UTC')"
	}
	fail(at, "a cast of a text to %s is not translated", to)
	return ""
}

// textOf writes a value as DuckDB writes it as a text.
func textOf(v value, at int) string {
	switch {
	case v.kind.Base == Text:
		return v.sql
	case v.kind.Base == Null:
		return "CAST(NULL AS Nullable(String))"
	case v.kind.whole(), v.kind.Base == Date:
		return "toString(" + v.sql + ")"
	case v.kind.Base == Boolean:
		return "CASE WHEN " + v.sql + " THEN 'true' WHEN NOT (" + v.sql + ") THEN 'false' END"
	}
	fail(at, "%s as a text is not translated: round it and cast it to a whole number, or leave it a number", v.kind)
	return ""
}
