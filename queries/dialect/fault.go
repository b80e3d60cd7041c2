package dialect

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"
)

// Refused is a statement that is not translated, with the place where it is known.
type Refused struct {
	Why          string
	Line, Column int // From 1, 0 where not known.
}

// Error writes line:column and why.
func (r *Refused) Error() string {
	place := ""
	if r.Line > 0 {
		place = fmt.Sprintf("%d:%d: ", r.Line, r.Column)
	}
	return place + "translate the statement for ClickHouse: " + r.Why
}

// refusal is thrown while a statement is read, and caught by catch.
type refusal struct {
	at  int // Byte in the statement, below 0 where not known.
	why string
}

func (r refusal) Error() string { return r.why }

func fail(at int, format string, args ...any) { panic(refusal{at, fmt.Sprintf(format, args...)}) }

// catch turns a thrown refusal into an error that names the place in the statement.
func catch(statement string, err *error) {
	thrown := recover()
	if thrown == nil {
		return
	}
	var r refusal
	if e, ok := thrown.(error); !ok || !errors.As(e, &r) {
		panic(thrown)
	}
	refused := &Refused{Why: r.why}
	if r.at >= 0 && r.at <= len(statement) {
		before := statement[:r.at]
		refused.Line = 1 + strings.Count(before, "\n")
		refused.Column = 1 + utf8.RuneCountInString(before[strings.LastIndexByte(before, '\n')+1:])
	}
	*err = refused
}
