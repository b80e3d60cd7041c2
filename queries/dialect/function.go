package dialect

import (
	"strings"
)

// function writes a call of a function of values.
type function func(c *call, args []value) value

// call writes a call of a macro or function.
func (w *writer) call(c *call, e *env) value {
	if s, ok := w.translator.own[c.name]; ok {
		if _, ok := w.translator.macros[c.name]; ok {
			return w.spelled(s, c, e)
		}
	}
	if m, ok := w.translator.macros[c.name]; ok {
		return w.macro(m, c, e)
	}
	if a, ok := w.translator.aggregates[c.name]; ok {
		return w.aggregate(a, c, e)
	}
	if w.translator.ranks[c.name] {
		return w.rank(c, e)
	}
	if l, ok := w.translator.lists[c.name]; ok {
		w.plainCall(c)
		return l(w, c, e)
	}
	f, ok := w.translator.functions[c.name]
	if !ok {
		fail(c.at, "function %s is not translated", c.name)
	}
	w.plainCall(c)
	return f(c, w.values(c.args, e))
}

// functions are those of values that are translated.
func functions() map[string]function {
	return map[string]function{
		"abs": same("abs"), "floor": bounded("floor"), "ceil": bounded("ceil"), "ceiling": bounded("ceil"), "round": round, "sign": sign,
		"sqrt": of("sqrt", 1), "exp": of("exp", 1), "ln": of("log", 1), "log": of("log10", 1), "log10": of("log10", 1), "log2": of("log2", 1), "pow": of("pow", 2), "power": of("pow", 2),
		"sin": of("sin", 1), "cos": of("cos", 1), "tan": of("tan", 1), "asin": of("asin", 1), "acos": of("acos", 1), "atan": of("atan", 1), "atan2": of("atan2", 2),
		"radians": of("radians", 1), "degrees": of("degrees", 1), "pi": constant("pi()", Double),
		"now": constant("now64(6, 'UTC')", TimestampTZ), "current_timestamp": constant("now64(6, 'UTC')", TimestampTZ), "get_current_timestamp": constant("now64(6, 'UTC')", TimestampTZ),
		"today": constant("toDate32(now('UTC'))", Date), "current_date": constant("toDate32(now('UTC'))", Date),
		"coalesce": coalesce, "ifnull": coalesce, "greatest": extreme, "least": extreme, "nullif": nullif, "if": choose, "mod": modulo,
		"concat": concat, "trim": trim, "ltrim": trim, "rtrim": trim, "lower": ofText("lowerUTF8"), "lcase": ofText("lowerUTF8"), "upper": upper, "ucase": upper,
		"length": length, "len": length, "char_length": length, "character_length": length, "replace": replace, "starts_with": search("startsWith"), "prefix": search("startsWith"),
		"ends_with": search("endsWith"), "suffix": search("endsWith"), "contains": search("position"), "substring": substring, "substr": substring, "left": ends, "right": ends, "split_part": splitPart,
		"regexp_matches": matches, "regexp_extract": matches, "regexp_replace": matches,
		"year": partOf, "quarter": partOf, "month": partOf, "week": partOf, "day": partOf, "dayofmonth": partOf, "dayofweek": partOf, "isodow": partOf, "dayofyear": partOf, "hour": partOf, "minute": partOf, "second": partOf, "epoch": partOf,
		"date_part": partOf, "datepart": partOf, "date_trunc": truncate, "datetrunc": truncate, "date_diff": difference, "datediff": difference, "strftime": strftime,
		"isnan": finiteness("isNaN"), "isinf": finiteness("isInfinite"), "isfinite": finiteness("isFinite"), "trunc": same("trunc"), "cbrt": of("cbrt", 1),
		"string_split": split, "str_split": split, "string_to_array": split, "list_contains": has, "list_has": has, "array_contains": has,
	}
}

// numbers holds that all arguments are some.
func numbers(c *call, args []value) {
	for _, a := range args {
		if !a.kind.Number() && a.kind.Base != Null {
			fail(c.at, "%s of %s, want a number", c.name, a.kind)
		}
	}
}

// texts holds that all arguments are some.
func texts(c *call, args []value) {
	for _, a := range args {
		if a.kind.Base != Text && a.kind.Base != Null {
			fail(c.at, "%s of %s, want a text", c.name, a.kind)
		}
	}
}

// text gives the argument's text, of NULL one of type text.
func (v value) text() string { return convert(v, Type{Base: Text}) }

// of is a function of numbers in double precision.
func of(name string, n int) function {
	return func(c *call, args []value) value {
		arity(c, n)
		numbers(c, args)
		parts := make([]string, n)
		for i, a := range args {
			parts[i] = convert(a, Type{Base: Double})
		}
		return value{sql: name + "(" + strings.Join(parts, ", ") + ")", kind: Type{Base: Double}, simple: true}
	}
}

func constant(text string, kind Base) function {
	return func(c *call, _ []value) value {
		arity(c, 0)
		return value{sql: text, kind: Type{Base: kind}, simple: true}
	}
}

// same is a function of a number that keeps its type.
func same(name string) function {
	return func(c *call, args []value) value {
		arity(c, 1)
		numbers(c, args)
		return value{sql: name + "(" + args[0].sql + ")", kind: args[0].kind, simple: true}
	}
}

// bounded is floor or ceil: of whole numbers they are double precision.
func bounded(name string) function {
	return func(c *call, args []value) value {
		arity(c, 1)
		numbers(c, args)
		kind := args[0].kind
		switch {
		case kind.Base == Decimal:
			kind.Scale = 0
			return value{sql: "toDecimal128(" + name + "(" + args[0].sql + "), 0)", kind: kind, simple: true}
		case kind.Base != Float:
			kind = Type{Base: Double}
		}
		return value{sql: name + "(" + convert(args[0], kind) + ")", kind: kind, simple: true}
	}
}

// finiteness tells numbers from those that are none, or without end.
func finiteness(name string) function {
	return func(c *call, args []value) value {
		arity(c, 1)
		numbers(c, args)
		return value{sql: name + "(" + convert(args[0], Type{Base: Double}) + ")", kind: Type{Base: Boolean}, flag: true, simple: true}
	}
}

func sign(c *call, args []value) value {
	arity(c, 1)
	numbers(c, args)
	return value{sql: "toInt32(sign(" + args[0].sql + "))", kind: Type{Base: Integer}, simple: true}
}

func coalesce(c *call, args []value) value {
	if len(args) == 0 {
		arity(c, 1)
	}
	kind := widestOf(c.at, args)
	if kind.Base == List {
		fail(c.at, "%s of lists is not translated", c.name)
	}
	return value{sql: "coalesce(" + joinedAs(args, kind) + ")", kind: kind, simple: true}
}

func joinedAs(args []value, kind Type) string {
	parts := make([]string, len(args))
	for i, a := range args {
		parts[i] = convert(a, kind)
	}
	return strings.Join(parts, ", ")
}

// extreme is greatest or least, which pass over NULL on both engines.
func extreme(c *call, args []value) value {
	if len(args) == 0 {
		arity(c, 1)
	}
	kind := widestOf(c.at, args)
	if kind.Base == List || kind.Base == Boolean {
		fail(c.at, "%s of %s is not translated", c.name, kind)
	}
	return value{sql: c.name + "(" + joinedAs(args, kind) + ")", kind: kind, simple: true}
}

func nullif(c *call, args []value) value {
	arity(c, 2)
	kind := widestOf(c.at, args)
	if kind != args[0].kind && args[0].kind.Base != Null {
		return value{sql: "CASE WHEN " + compare("=", args[0], args[1], kind) + " THEN CAST(NULL AS " + args[0].kind.nullable() + ") ELSE " + args[0].sql + " END", kind: args[0].kind}
	}
	return value{sql: "nullIf(" + joinedAs(args, kind) + ")", kind: kind, simple: true}
}

func choose(c *call, args []value) value {
	arity(c, 3)
	if args[0].kind.Base != Boolean {
		fail(c.at, "if of %s, want a condition", args[0].kind)
	}
	kind := widestOf(c.at, args[1:])
	return value{sql: "if(" + args[0].sql + ", " + joinedAs(args[1:], kind) + ")", kind: kind, simple: true}
}

func modulo(c *call, args []value) value {
	arity(c, 2)
	numbers(c, args)
	return arithmetic("%", args[0], args[1], c.at)
}
