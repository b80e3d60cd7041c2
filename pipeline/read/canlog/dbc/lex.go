package dbc

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

type kind int

const (
	end kind = iota
	word
	number
	text
	mark // One of : ; , | @ + - ( ) [ ].
)

type token struct {
	kind      kind
	s         string
	line, col int
	first     bool // The first of its line.
}

// lexer parts a database into tokens.
type lexer struct {
	file string
	b    string
	at   int
	line int
	bol  int // Where the line begins.
	tok  token
}

func newLexer(file string, b []byte) *lexer {
	s := strings.TrimPrefix(string(b), "\ufeff")
	if !utf8.ValidString(s) {
		if d, err := charmap.Windows1252.NewDecoder().String(s); err == nil {
			s = d
		}
	}
	if !strings.Contains(s, "\n") {
		s = strings.ReplaceAll(s, "\r", "\n")
	}
	return &lexer{file: file, b: s, line: 1}
}

func (l *lexer) fail(t token, format string, args ...any) error {
	return fmt.Errorf("%s:%d:%d: %s", l.file, t.line, t.col, fmt.Sprintf(format, args...))
}

// blanks skips blanks and comments. It reports whether a line ended.
func (l *lexer) blanks() bool {
	ended := l.at == 0
	for l.at < len(l.b) {
		switch c := l.b[l.at]; {
		case c == '\n':
			l.at++
			l.line, l.bol, ended = l.line+1, l.at, true
		case c == ' ' || c == '\t' || c == '\r' || c == '\f' || c == 0x1a:
			l.at++
		case strings.HasPrefix(l.b[l.at:], "//"):
			for l.at < len(l.b) && l.b[l.at] != '\n' {
				l.at++
			}
		default:
			return ended
		}
	}
	return ended
}

func isWord(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '_' || c >= 0x80
}

// next reads one token into l.tok.
func (l *lexer) next() error {
	first := l.blanks()
	l.tok = token{line: l.line, col: l.at - l.bol + 1, first: first}
	if l.at >= len(l.b) {
		return nil
	}
	start := l.at
	switch c := l.b[l.at]; {
	case c == '"':
		return l.quoted()
	case beginsNumber(l.b[l.at:min(len(l.b), l.at+2)]):
		l.number()
	case isWord(c):
		for l.at < len(l.b) && isWord(l.b[l.at]) {
			l.at++
		}
		l.tok.kind = word
	default:
		l.at++
		l.tok.kind = mark
	}
	l.tok.s = l.b[start:l.at]
	return nil
}

// beginsNumber tells a number by two characters.
func beginsNumber(b string) bool {
	if len(b) == 2 && (b[0] == '-' || b[0] == '+') {
		b = b[1:]
	}
	return b[0] >= '0' && b[0] <= '9' || b[0] == '.'
}

func (l *lexer) number() {
	l.tok.kind = number
	l.at++
	for l.at < len(l.b) {
		c, before := l.b[l.at], l.b[l.at-1]
		sign := (c == '-' || c == '+') && (before == 'e' || before == 'E')
		if !isWord(c) && c != '.' && !sign {
			return
		}
		l.at++
	}
}

// quoted reads a text in quotes, which may run over lines; \" is a quote.
func (l *lexer) quoted() error {
	l.tok.kind = text
	l.at++
	start := l.at
	for l.at < len(l.b) {
		switch l.b[l.at] {
		case '\\':
			l.at++
			if l.at < len(l.b) && l.b[l.at] == '"' && !l.closes(l.at) {
				l.at++
			}
			continue
		case '"':
			l.tok.s = strings.ReplaceAll(l.b[start:l.at], `\"`, `"`)
			l.at++
			return nil
		case '\n':
			l.line, l.bol = l.line+1, l.at+1
		}
		l.at++
	}
	return l.fail(l.tok, "a text that is never closed: expected a quote")
}

// closes reports whether the quote behind a backslash ends the text all the same: a unit or path may end in a backslash.
func (l *lexer) closes(at int) bool {
	rest := strings.TrimLeft(l.b[at+1:min(len(l.b), at+16)], " \t")
	return strings.HasPrefix(rest, ";")
}
