package tokens

import "strings"

// Token is a stretch of SQL of one kind.
type Token struct {
	Kind   Kind
	Text   string
	Offset int // Of its first byte.
}

// Kind tells code from what is quoted or a comment, and from the name of a parameter.
type Kind uint8

// The kinds.
const (
	Code     Kind = iota
	Inert         // Quoted, or a comment.
	Variable      // $NAME.
)

// Cut cuts SQL so that parameters are found where they are code, and not inside quotes and comments. The tokens' texts
// joined are the SQL again, whatever the bytes; a quote that is not closed runs to the end.
func Cut(sql string) []Token {
	var tokens []Token
	start := 0
	add := func(kind Kind, end int) {
		if end > start {
			tokens = append(tokens, Token{kind, sql[start:end], start})
			start = end
		}
	}
	for i := 0; i < len(sql); {
		end, kind := scan(sql, i)
		if end == i {
			i++
			continue
		}
		add(Code, i)
		add(kind, end)
		i = end
	}
	add(Code, len(sql))
	return tokens
}

// scan gives the end and kind of what begins at i, or i itself where it is plain code.
func scan(sql string, i int) (int, Kind) {
	rest := sql[i:]
	switch {
	case rest[0] == '\'':
		escapes := i > 0 && (sql[i-1] == 'e' || sql[i-1] == 'E') && (i == 1 || !word(sql[i-2]))
		return i + quoted(rest, '\'', escapes), Inert
	case rest[0] == '"':
		return i + quoted(rest, '"', false), Inert
	case strings.HasPrefix(rest, "--"):
		if n := strings.IndexByte(rest, '\n'); n >= 0 {
			return i + n, Inert
		}
		return len(sql), Inert
	case strings.HasPrefix(rest, "/*"):
		return i + nested(rest), Inert
	case rest[0] == '$':
		return dollar(sql, i)
	}
	return i, Code
}

// quoted is the length of a quoted text with its quotes; a doubled quote stays inside, a backslash escapes where that is so.
func quoted(s string, mark byte, escapes bool) int {
	for i := 1; i < len(s); i++ {
		switch {
		case escapes && s[i] == '\\':
			i++
		case s[i] == mark && i+1 < len(s) && s[i+1] == mark:
			i++
		case s[i] == mark:
			return i + 1
		}
	}
	return len(s)
}

// nested is the length of a block comment, in which others may lie.
func nested(s string) int {
	depth := 0
	for i := 0; i+1 < len(s); i++ {
		switch s[i : i+2] {
		case "/*":
			depth++
			i++
		case "*/":
			depth--
			i++
			if depth == 0 {
				return i + 1
			}
		}
	}
	return len(s)
}

// dollar tells a parameter ($NAME) from a text between dollar signs ($$ … $$ or $tag$ … $tag$).
func dollar(sql string, i int) (int, Kind) {
	if i > 0 && word(sql[i-1]) {
		return i, Code // Part of a name.
	}
	end := i + 1
	for end < len(sql) && word(sql[end]) {
		end++
	}
	if end < len(sql) && sql[end] == '$' {
		tag := sql[i : end+1]
		if n := strings.Index(sql[end+1:], tag); n >= 0 {
			return end + 1 + n + len(tag), Inert
		}
		return len(sql), Inert
	}
	if end == i+1 {
		return i, Code
	}
	return end, Variable
}

func word(c byte) bool {
	return c == '_' || c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= 0x80
}
