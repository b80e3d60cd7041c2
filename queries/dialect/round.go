package dialect

import (
	"strings"
)

// round writes round(x) and round(x, digits) as DuckDB counts them: x times a power of ten, to the nearest whole number, of two the one away from
// zero, and divided again. ClickHouse's own takes the even one of two.
func round(c *call, args []value) value {
	if len(args) == 1 {
		args = append(args, writeLiteral(&literal{Integer, "0", c.at}))
	} else {
		arity(c, 2)
	}
	numbers(c, args)
	x, digits := args[0], args[1]
	if !digits.kind.whole() {
		fail(c.at, "round to %s digits, want a whole number", digits.kind)
	}
	switch {
	case x.kind.Base == Null:
		x = value{sql: convert(x, Type{Base: Double}), kind: Type{Base: Double}, simple: true}
	case x.kind.whole() && digits.lit != nil && !strings.HasPrefix(digits.lit.text, "-"):
		return x
	case x.kind.Base == Decimal:
		return roundDecimal(c, x, digits)
	case x.kind.whole():
		fail(c.at, "round of a whole number to a variable number of digits is not translated: cast it to DOUBLE")
	}
	wide := convert(x, Type{Base: Double})
	up, down := "x * m", "x / m"
	if digits.lit != nil {
		n := atoiSmall(strings.TrimPrefix(digits.lit.text, "-"))
		m := "1" + strings.Repeat("0", min(n, 300)) + "."
		up, down = "x * "+m, "x / "+m
		if n == 0 {
			up, down = "x", "x"
		}
		if strings.HasPrefix(digits.lit.text, "-") {
			up, down = down, up
		}
		return roundedOf(wide, "", up, down, x.kind)
	}
	return roundedOf(wide, "if("+digits.in()+" < 0, 1. / exp10(-"+digits.in()+"), pow(10., "+digits.sql+"))", up, down, x.kind)
}

// roundedOf writes the rounding of one x by lambdas, so that its text stands once.
func roundedOf(x, modifier, up, down string, kind Type) value {
	nearest := func(y string) string {
		return "if(abs(" + y + " - trunc(" + y + ")) >= 0.5, trunc(" + y + ") + sign(" + y + "), trunc(" + y + "))"
	}
	y := up
	if up != "x" {
		y = "(" + up + ")"
	}
	body := strings.Replace(down, "x", nearest(y), 1)
	var text string
	if modifier == "" {
		text = "arrayMap(x -> if(isFinite(" + y + "), " + body + ", x), [" + x + "])[1]"
	} else {
		text = "arrayMap((x, m) -> if(isFinite(" + y + "), " + body + ", x), [" + x + "], [" + modifier + "])[1]"
	}
	if kind.Base == Float {
		text = "toFloat32(" + text + ")"
	} else {
		kind = Type{Base: Double}
	}
	return value{sql: text, kind: kind, simple: true}
}

// roundDecimal keeps no more decimals than there are.
func roundDecimal(c *call, x, digits value) value {
	if digits.lit == nil || strings.HasPrefix(digits.lit.text, "-") {
		fail(c.at, "round of a decimal to a variable or negative number of digits is not translated: cast it to DOUBLE")
	}
	n := atoiSmall(digits.lit.text)
	if n >= x.kind.Scale {
		return x
	}
	half := "toDecimal128('0." + strings.Repeat("0", n) + "5', " + itoa(n+1) + ")"
	return value{sql: "toDecimal128(trunc(" + x.in() + " + " + half + " * sign(" + x.sql + "), " + itoa(n) + "), " + itoa(n) + ")", kind: Type{Base: Decimal, Scale: n}, simple: true}
}
