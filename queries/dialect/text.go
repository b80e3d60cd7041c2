package dialect

import (
	"strings"
)

func ofText(name string) function {
	return func(c *call, args []value) value {
		arity(c, 1)
		texts(c, args)
		return value{sql: name + "(" + args[0].text() + ")", kind: Type{Base: Text}, simple: true}
	}
}

// upper leaves ß a single letter, as DuckDB does.
func upper(c *call, args []value) value {
	arity(c, 1)
	texts(c, args)
	return value{sql: "upperUTF8(replaceAll(" + args[0].text() + ", 'ß', 'ẞ'))", kind: Type{Base: Text}, simple: true}
}

// concat passes over NULL.
func concat(c *call, args []value) value {
	parts := make([]string, len(args))
	for i, a := range args {
		parts[i] = textOf(a, c.at)
		if a.lit == nil || a.lit.kind == Null {
			parts[i] = "ifNull(" + parts[i] + ", '')"
		}
	}
	if len(parts) < 2 {
		parts = append(parts, "''")
	}
	return value{sql: "concat(" + strings.Join(parts, ", ") + ")", kind: Type{Base: Text}, simple: true}
}

func trim(c *call, args []value) value {
	name := map[string]string{"trim": "trimBoth", "ltrim": "trimLeft", "rtrim": "trimRight"}[c.name]
	if len(args) == 2 {
		arity(c, 2)
		texts(c, args)
		if args[1].lit == nil {
			fail(c.at, "%s wants its characters as a text in quotes", c.name)
		}
		return value{sql: name + "(" + args[0].text() + ", " + args[1].sql + ")", kind: Type{Base: Text}, simple: true}
	}
	arity(c, 1)
	texts(c, args)
	return value{sql: name + "(" + args[0].text() + ")", kind: Type{Base: Text}, simple: true}
}

// length is of a text in characters, of a list in values.
func length(c *call, args []value) value {
	arity(c, 1)
	name := "lengthUTF8"
	if args[0].kind.Base == List {
		name = "length"
	} else {
		arity(c, 1)
		texts(c, args)
	}
	text := "toInt64(" + name + "(" + args[0].sql + "))"
	if args[0].absent {
		text = "nullIf(" + text + ", 0)"
	}
	return value{sql: text, kind: Type{Base: BigInt}, simple: true}
}

func replace(c *call, args []value) value {
	arity(c, 3)
	texts(c, args)
	return value{sql: "replaceAll(" + joinedAs(args, Type{Base: Text}) + ")", kind: Type{Base: Text}, simple: true}
}

// search tells whether a text begins with, ends with or holds another.
func search(name string) function {
	return func(c *call, args []value) value {
		if len(args) == 2 && args[0].kind.Base == List {
			return has(c, args)
		}
		arity(c, 2)
		texts(c, args)
		v := value{sql: name + "(" + joinedAs(args, Type{Base: Text}) + ")", kind: Type{Base: Boolean}, flag: true, simple: true}
		if name == "position" {
			v.sql, v.simple = v.sql+" > 0", false
		}
		return v
	}
}

// substring counts from 1; from the end, which DuckDB counts below 0, it is not translated.
func substring(c *call, args []value) value {
	if n := len(args); n != 2 && n != 3 {
		arity(c, 3)
	}
	texts(c, args[:1])
	for _, a := range args[1:] {
		if a.lit == nil || a.lit.kind != Integer || strings.HasPrefix(a.lit.text, "-") || a.lit == args[1].lit && atoiSmall(a.lit.text) < 1 {
			fail(c.at, "%s wants whole numbers, the first of 1 or more", c.name)
		}
	}
	parts := []string{args[0].text()}
	for _, a := range args[1:] {
		parts = append(parts, a.sql)
	}
	return value{sql: "substringUTF8(" + strings.Join(parts, ", ") + ")", kind: Type{Base: Text}, simple: true}
}

// ends is left or right.
func ends(c *call, args []value) value {
	arity(c, 2)
	texts(c, args[:1])
	if l := args[1].lit; l == nil || l.kind != Integer || strings.HasPrefix(l.text, "-") {
		fail(c.at, "%s wants a whole number of characters", c.name)
	}
	return value{sql: c.name + "UTF8(" + args[0].text() + ", " + args[1].sql + ")", kind: Type{Base: Text}, simple: true}
}

func splitPart(c *call, args []value) value {
	arity(c, 3)
	texts(c, args[:2])
	if args[1].lit == nil || args[1].lit.text == "" || args[2].lit == nil || strings.HasPrefix(args[2].lit.text, "-") || atoiSmall(args[2].lit.text) < 1 {
		fail(c.at, "split_part wants its separator in quotes and a whole number of 1 or more")
	}
	text := args[0].text()
	return value{sql: "if(" + text + " IS NULL, NULL, splitByString(" + args[1].sql + ", ifNull(" + text + ", ''))[" + args[2].sql + "])", kind: Type{Base: Text}, simple: true}
}

func split(c *call, args []value) value {
	arity(c, 2)
	texts(c, args)
	if args[1].lit == nil || args[1].lit.text == "" {
		fail(c.at, "%s wants its separator in quotes", c.name)
	}
	if !args[0].simple && args[0].lit == nil {
		fail(c.at, "%s of a text that can be NULL is not translated", c.name)
	}
	of := Type{Base: List, Of: Text}
	return value{sql: "CAST(splitByString(" + args[1].sql + ", ifNull(" + args[0].text() + ", '')) AS " + of.click() + ")", kind: of, simple: true}
}

func has(c *call, args []value) value {
	arity(c, 2)
	if args[0].kind.Base != List {
		fail(c.at, "%s of %s, want a list", c.name, args[0].kind)
	}
	if args[0].absent {
		fail(c.at, "%s of a list that can be NULL is not translated", c.name)
	}
	kind := widestOf(c.at, []value{{kind: Type{Base: args[0].kind.Of}}, args[1]})
	if kind.Base != args[0].kind.Of {
		fail(c.at, "%s: a list of %s holds no %s", c.name, args[0].kind.Of, args[1].kind)
	}
	return value{sql: "has(" + args[0].sql + ", " + convert(args[1], kind) + ")", kind: Type{Base: Boolean}, flag: true, simple: true}
}

// matches writes functions of a regular expression. Both engines have the same ones; ClickHouse's point meets a line break unless told not to.
func matches(c *call, args []value) value {
	arity(c, map[string]int{"regexp_matches": 2, "regexp_extract": 2, "regexp_replace": 3}[c.name])
	texts(c, args)
	if args[1].lit == nil {
		fail(c.at, "%s wants its pattern in quotes", c.name)
	}
	form := quoteText("(?-s)" + args[1].lit.text)
	switch c.name {
	case "regexp_matches":
		return value{sql: "match(" + args[0].text() + ", " + form + ")", kind: Type{Base: Boolean}, flag: true, simple: true}
	case "regexp_extract":
		return value{sql: "regexpExtract(" + args[0].text() + ", " + form + ", 0)", kind: Type{Base: Text}, simple: true}
	}
	if args[2].lit == nil {
		fail(c.at, "%s wants what it puts in in quotes", c.name)
	}
	return value{sql: "replaceRegexpOne(" + args[0].text() + ", " + form + ", " + args[2].sql + ")", kind: Type{Base: Text}, simple: true}
}
