package dialect

import (
	"strings"

	"dynolake/queries/tokens"
)

// lexeme is the smallest piece of a statement.
type lexeme struct {
	kind lexKind
	text string // A word in lower case, a quoted name or text without its quotes, else as written.
	raw  string // As written.
	at   int    // Of its first byte in the statement.
}

type lexKind uint8

const (
	end lexKind = iota
	word
	quotedName
	number
	text
	operator
	parameter
)

// lex cuts a statement into lexemes; comments and blanks are dropped.
func lex(statement string) []lexeme {
	var list []lexeme
	for _, t := range tokens.Cut(statement) {
		switch {
		case t.Kind == tokens.Variable:
			list = append(list, lexeme{parameter, t.Text[1:], t.Text, t.Offset})
		case t.Kind == tokens.Code:
			list = append(list, lexCode(t.Text, t.Offset)...)
		case strings.HasPrefix(t.Text, "--"), strings.HasPrefix(t.Text, "/*"):
		default:
			list = append(list, lexQuoted(t, list))
		}
	}
	return append(list, lexeme{kind: end, raw: "the end", at: len(statement)})
}

func lexQuoted(t tokens.Token, before []lexeme) lexeme {
	mark := t.Text[:1]
	if len(t.Text) < 2 || !strings.HasSuffix(t.Text, mark) {
		fail(t.Offset, "the quote %s is not closed", mark)
	}
	if mark == "$" {
		fail(t.Offset, "texts between dollar signs are not translated: write it between quotes")
	}
	inner := strings.ReplaceAll(t.Text[1:len(t.Text)-1], mark+mark, mark)
	if mark == `"` {
		return lexeme{quotedName, inner, t.Text, t.Offset}
	}
	if n := len(before); n > 0 && before[n-1].kind == word && before[n-1].text == "e" && before[n-1].at+1 == t.Offset {
		fail(t.Offset, "texts with escapes (E'…') are not translated: write it plainly, or with chr(…)")
	}
	return lexeme{text, inner, t.Text, t.Offset}
}

// operators that have more than one sign, the longer first.
func longOperators() []string {
	return []string{"->>", "!~~", "<=>", "::", "||", "<=", ">=", "<>", "!=", "==", "//", "**", "->", "~~", "=>", ":="}
}

func lexCode(code string, offset int) []lexeme {
	var list []lexeme
	for i := 0; i < len(code); {
		c := code[i]
		n := 1
		kind := operator
		switch {
		case strings.IndexByte(" \t\r\n\f\v", c) >= 0:
			i++
			continue
		case digit(c) || c == '.' && i+1 < len(code) && digit(code[i+1]):
			n, kind = numberLength(code[i:]), number
		case letter(c):
			for n < len(code)-i && (letter(code[i+n]) || digit(code[i+n])) {
				n++
			}
			kind = word
		default:
			for _, o := range longOperators() {
				if strings.HasPrefix(code[i:], o) {
					n = len(o)
					break
				}
			}
		}
		raw := code[i : i+n]
		written := raw
		if kind == word {
			written = strings.ToLower(raw)
		}
		list = append(list, lexeme{kind, written, raw, offset + i})
		i += n
	}
	return list
}

// numberLength is the length of 12, 1_000, 1.5, .5, 1e9, 1.5E-3; of 1.e, as of any number behind which letters stand, what is a number.
func numberLength(s string) int {
	n := 0
	digits := func() {
		for n < len(s) && (digit(s[n]) || s[n] == '_') {
			n++
		}
	}
	digits()
	if n < len(s) && s[n] == '.' {
		n++
		digits()
	}
	if n < len(s) && (s[n] == 'e' || s[n] == 'E') {
		exponent := n + 1
		if exponent < len(s) && (s[exponent] == '+' || s[exponent] == '-') {
			exponent++
		}
		if exponent < len(s) && digit(s[exponent]) {
			n = exponent
			digits()
		}
	}
	return n
}

func digit(c byte) bool { return c >= '0' && c <= '9' }

func letter(c byte) bool { return c == '_' || c|0x20 >= 'a' && c|0x20 <= 'z' || c >= 0x80 }
