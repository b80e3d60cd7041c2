package fleet

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"sync"
)

// ErrNoLibrary is returned where the embedded engine's library is not there.
var ErrNoLibrary = errors.New("the library is not there")

// Fault is what the engine finds wrong.
type Fault struct {
	Code    int // As the engine numbers its errors; 0 where it gives none.
	Message string
}

// Error tells what the engine said.
func (f *Fault) Error() string { return "ask the engine: " + f.Message }

// Numbers of the engine's errors that something follows from.
const (
	codeReadonly = 164
	codeMemory   = 241
	codeS3       = 499
	codeSetting  = 115 // It knows no such setting.
)

const longestMessage = 500

// said finds the number and the words of an error; before version 20 the engine named displayText and what.
var said = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?s)^\s*Code: (\d+)[.,] (?:e\.displayText\(\) = )?(?:DB::)?(?:Net)?Exception: (.*?)(?:, e\.what\(\) = .*|\s*\(version [^)]*\)\s*)?$`)
})

// explain makes a fault of what an engine said.
func explain(text string) error {
	f := &Fault{Message: strings.TrimSpace(text)}
	if m := said().FindStringSubmatch(text); m != nil {
		f.Code, _ = strconv.Atoi(m[1]) // The pattern lets digits through alone.
		f.Message = strings.TrimSpace(m[2])
	}
	for _, behind := range []string{": While executing ", ": while executing ", ": In scope ", " In scope ", " in scope "} {
		f.Message, _, _ = strings.Cut(f.Message, behind) // What follows repeats the statement.
	}
	if len(f.Message) > longestMessage { // It may list every file.
		f.Message = strings.ToValidUTF8(f.Message[:longestMessage], "") + " …"
	}
	switch f.Code {
	case codeMemory:
		f.Message = "the statement needs more memory than it may hold: ask for less at once, or give it more (" + f.Message + ")"
	case codeS3:
		f.Message = "the bucket does not give a file: it was published anew meanwhile, or the keys do not permit reading: ask again (" + f.Message + ")"
	case codeSetting:
		f.Message = "the engine is too old for translated statements: " + f.Message
	}
	return f
}

// discreet keeps keys out of what an engine said, before anything is put around it, whatever the engine repeats of what it was sent.
func discreet(err error, keys []string) error {
	var f *Fault
	if !errors.As(err, &f) {
		return err
	}
	for _, k := range keys {
		if k != "" {
			f.Message = strings.ReplaceAll(f.Message, k, "[hidden]")
		}
	}
	return err
}

func code(err error) int {
	var f *Fault
	if errors.As(err, &f) {
		return f.Code
	}
	return 0
}

// doing says at which part of the work an error came.
func doing(what string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w", what, err)
}
