package engine

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// OutOfMemory is the kind of a Fault that more memory may mend.
const OutOfMemory = "Out of Memory"

// Fault is what the database finds wrong in a statement, with the place where it knows one.
type Fault struct {
	Kind         string // As the database classes it: Parser, Binder, Catalog, Conversion.
	Message      string
	Candidates   []string // Names that were perhaps meant.
	Line, Column int      // From 1, 0 where not known; columns count characters.
}

// Error writes line:column, what is wrong and what was perhaps meant.
func (f *Fault) Error() string {
	place := "run the statement: "
	if f.Line > 0 {
		place = fmt.Sprintf("%d:%d: ", f.Line, f.Column)
	}
	meant := ""
	if len(f.Candidates) > 0 {
		meant = "; nearest: " + strings.Join(f.Candidates, ", ")
	}
	return place + f.Message + meant
}

// explain turns what the database says into a Fault.
func explain(said, statement string) error {
	var told struct {
		Type       string `json:"exception_type"`
		Message    string `json:"exception_message"`
		Subtype    string `json:"error_subtype"`
		Candidates string `json:"candidates"`
		Position   string `json:"position"`
		Name       string `json:"name"`
	}
	start := strings.IndexByte(said, '{')
	if start < 0 || json.NewDecoder(strings.NewReader(said[start:])).Decode(&told) != nil || told.Message == "" {
		return &Fault{Message: said}
	}
	message, _, _ := strings.Cut(strings.TrimSpace(told.Message), "\n") // What follows speaks of settings, which are locked.
	f := &Fault{Kind: told.Type, Message: lower(message)}
	if told.Candidates != "" {
		f.Candidates = strings.Split(told.Candidates, ",")
		f.Candidates = f.Candidates[:min(3, len(f.Candidates))]
	}
	switch {
	case told.Subtype == "COLUMN_NOT_FOUND":
		f.Message = fmt.Sprintf("there is no column %q here", told.Name)
		f.Message += elsewhere(told.Name)
	case told.Type == OutOfMemory:
		f.Message += ": ask for less at once, or give the session more memory"
	}
	if m := wrongArguments.FindStringSubmatch(f.Message); m != nil {
		for _, known := range Macros() {
			if strings.HasPrefix(strings.ToLower(known.Call), strings.ToLower(m[1])+"(") {
				f.Message = fmt.Sprintf("%s wants other arguments: %s", m[1], known.Call)
			}
		}
	}
	placed := slices.Contains([]string{"Parser", "Binder", "Catalog", "Conversion"}, told.Type) // Others tell a place within the view.
	if at, e := strconv.Atoi(told.Position); e == nil && placed && at <= len(statement) {
		f.Line, f.Column = place(statement, at)
	}
	return f
}

var wrongArguments = regexp.MustCompile(`^macro (\w+)\(\) does not support the supplied arguments`)

// elsewhere says which views have a column that the ones named have not.
func elsewhere(name string) string {
	var have []string
	all := Views()
	for _, v := range viewNames() {
		if slices.ContainsFunc(all[v], func(c Column) bool { return strings.EqualFold(c.Name, name) }) {
			have = append(have, v)
		}
	}
	if len(have) == 0 {
		return ""
	}
	return ", but in " + strings.Join(have, ", ")
}

// place finds line and column of a byte offset, both from 1.
func place(statement string, offset int) (line, column int) {
	offset = min(max(offset, 0), len(statement))
	before := statement[:offset]
	return strings.Count(before, "\n") + 1, utf8.RuneCountInString(before[strings.LastIndexByte(before, '\n')+1:]) + 1
}

// lower makes the first letter small unless the word is a name in capitals.
func lower(s string) string {
	if len(s) > 1 && s[0] >= 'A' && s[0] <= 'Z' && s[1] >= 'a' && s[1] <= 'z' {
		return string(s[0]+'a'-'A') + s[1:]
	}
	return s
}
