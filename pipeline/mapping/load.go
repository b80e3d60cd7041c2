package mapping

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

// LoadRules reads every .yaml and .yml file of a folder, in the order of their names. A folder that is not there has no rules.
// Each fault is named with file:line:column; with any, no rules are returned.
func LoadRules(dir string) (Rules, error) {
	list, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return Rules{}, nil
	}
	if err != nil {
		return Rules{}, fmt.Errorf("read mappings: %w", err)
	}
	var rules Rules
	var faults []error
	for _, f := range list {
		if end := strings.ToLower(filepath.Ext(f.Name())); f.IsDir() || (end != ".yaml" && end != ".yml") || strings.HasPrefix(f.Name(), ".") {
			continue
		}
		name := filepath.Join(dir, f.Name())
		data, err := os.ReadFile(name)
		if err != nil {
			faults = append(faults, fmt.Errorf("read mappings: %w", err))
			continue
		}
		r, err := ParseRules(name, data)
		rules.list = append(rules.list, r.list...)
		faults = append(faults, err)
	}
	if err := errors.Join(faults...); err != nil {
		return Rules{}, err
	}
	return rules, nil
}

// ParseRules reads one file of mappings; name is what errors call it.
func ParseRules(name string, data []byte) (Rules, error) {
	root, err := entry.Parse(name, data)
	if err != nil {
		return Rules{}, err
	}
	top := entry.NewForm(root)
	var rules Rules
	faults := []error{nil}
	for _, item := range top.List("mappings") {
		r, err := rule(item)
		rules.list = append(rules.list, r)
		faults = append(faults, err)
	}
	top.Close("mappings")
	faults[0] = top.Err()
	if err := errors.Join(faults...); err != nil {
		return Rules{}, err
	}
	return rules, nil
}

var ruleKeys = []string{"header", "pattern", "vehicle", "source", "column", "unit", "reference", "factor", "offset", "zero", "states", "ignore"}

func rule(item entry.Value) (Rule, error) {
	f := entry.NewForm(item)
	if item.Kind != entry.Map {
		return Rule{}, item.At.Errorf("", "found %q: want an entry such as {header: \"Boost 1\", column: map_kpa, unit: psi, reference: gauge}", item.Text)
	}
	f.Close(ruleKeys...)
	r := Rule{At: item.At, Header: f.Text("header"), Vehicle: f.Text("vehicle"), Source: f.Text("source"), Factor: 1}
	r.Reference = schema.Reference(f.Word("reference", string(schema.Absolute), string(schema.Gauge)))
	r.Ignore = f.Word("ignore", "true", "false") == "true"
	r.pattern(f)
	if (r.Header == "") == (r.Pattern == nil) && !f.Has("pattern") {
		f.Fail(item.At, "", "found neither header nor pattern: want the header's text, or a pattern that matches it")
	} else if r.Header != "" && f.Has("pattern") {
		f.Fail(f.At("pattern"), "pattern", "found a header too: want one of the two")
	}
	r.target(f)
	r.Text = r.text()
	return r, f.Err()
}

func (r *Rule) pattern(f *entry.Form) {
	text := f.Text("pattern")
	if text == "" {
		return
	}
	p, err := regexp.Compile("^(?:" + text + ")$")
	if err != nil {
		f.Fail(f.At("pattern"), "pattern", "found %q: want a regular expression: %w", text, err)
		return
	}
	r.Pattern = p
}

// target reads what the header becomes.
func (r *Rule) target(f *entry.Form) {
	name := f.Text("column")
	if r.Ignore {
		if name != "" {
			f.Fail(f.At("column"), "column", "found %q beside ignore: true: want one of the two", name)
		}
		return
	}
	if name == "" {
		f.Fail(f.Value.At, "", "found no column: want one of the catalogue, or ignore: true")
		return
	}
	col, ok := schema.Lookup(strings.ToLower(name))
	switch {
	case !ok:
		f.Fail(f.At("column"), "column", "found %q: %s", name, entry.Expected(name, measured()))
		return
	case col.Derived:
		f.Fail(f.At("column"), "column", "found %q, which is worked out as %s: want a measured column", name, col.Formula)
		return
	case col.Name == "t_s":
		f.Fail(f.At("column"), "column", "found %q: the time comes from the log's own clock, want another column", name)
		return
	}
	r.Column = col.Name
	if r.Reference != "" && col.Quantity != "pressure" {
		f.Fail(f.At("reference"), "reference", "found %q for %s, which is a %s: want it for pressures alone", r.Reference, col.Name, col.Quantity)
	}
	r.numbers(f, col)
	r.texts(f, col)
	r.zero(f, col)
}

// zero reads what is to be taken off a pressure.
func (r *Rule) zero(f *entry.Form, col schema.Column) {
	text := f.Text("zero")
	if text == "" {
		return
	}
	if !slices.Contains(zeroed(), col.Name) {
		f.Fail(f.At("zero"), "zero", "found %q for %s: want it for one of %s", text, col.Name, strings.Join(zeroed(), ", "))
		return
	}
	z, err := ParseZeros(col.Name + "=" + text)
	if err != nil {
		f.Fail(f.At("zero"), "zero", "%w", err)
		return
	}
	ask := z[col.Name]
	r.Zero = &ask
}

func (r *Rule) numbers(f *entry.Form, col schema.Column) {
	unit := col.Unit
	if text := f.Text("unit"); text != "" {
		u, ok := schema.ParseUnit(text)
		if !ok {
			f.Fail(f.At("unit"), "unit", "found %q: no unit of that name is known, want one of %s, such as %s", text, col.Quantity, col.Unit)
			return
		}
		if _, ok := fit(col, u, 1); !ok {
			f.Fail(f.At("unit"), "unit", "found %q, a %s: %s wants a %s such as %s", text, u.Quantity, col.Name, col.Quantity, col.Unit)
			return
		}
		if u.Reference != "" && r.Reference != "" && u.Reference != r.Reference {
			f.Fail(f.At("unit"), "unit", "found %q beside reference: %s: want the two to agree", text, r.Reference)
		}
		r.Unit, unit = u, u.Name
		if r.Reference == "" {
			r.Reference = u.Reference
		}
	}
	if f.Has("factor") {
		text := f.Text("factor")
		x, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if err != nil || x == 0 {
			f.Fail(f.At("factor"), "factor", "found %q: want a number other than 0, such as 0.1", text)
		}
		r.Factor = x
	}
	want := entry.Want{Unit: unit, Example: "-0.625"}
	if u, ok := schema.ParseUnit(unit); ok && u.Quantity == "temperature" { // 10 °F of difference is no 10 °F of temperature.
		want.Unit = "1"
	}
	r.Offset = f.Number("offset", want)
}

func (r *Rule) texts(f *entry.Form, col schema.Column) {
	if !f.Has("states") {
		return
	}
	v, _ := f.Value.Field("states")
	if v.Value.Kind != entry.Map {
		f.Fail(v.Value.At, "states", "found %q: want texts and their values, such as {Locked: 1, Open: 0}", v.Value.Text)
		return
	}
	r.States = map[string]float64{}
	for _, s := range v.Value.Fields {
		x, err := strconv.ParseFloat(s.Value.Text, 64)
		if err != nil || !col.Plausible(x) {
			f.Fail(s.Value.At, "states", "found %q for %q: want a number that %s can hold", s.Value.Text, s.Name, col.Name)
			continue
		}
		r.States[strings.ToLower(strings.TrimSpace(s.Name))] = x
	}
}

// text is the entry in one spelling.
func (r Rule) text() string {
	var b strings.Builder
	pattern := ""
	if r.Pattern != nil {
		pattern = r.Pattern.String()
	}
	fmt.Fprintf(&b, "header=%q pattern=%q vehicle=%q source=%q column=%s unit=%s reference=%s factor=%g offset=%g ignore=%t",
		bare(r.Header), pattern, strings.ToLower(r.Vehicle), strings.ToLower(r.Source), r.Column, r.Unit.Name, r.Reference, r.Factor, r.Offset, r.Ignore)
	keys := make([]string, 0, len(r.States))
	for k := range r.States {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	for _, k := range keys {
		fmt.Fprintf(&b, " %q=%g", k, r.States[k])
	}
	b.WriteString(zeroText(r.Zero))
	return b.String()
}

// measured lists the columns that a channel may become.
func measured() []string {
	var out []string
	for _, c := range schema.Columns() {
		if !c.Derived && c.Name != "t_s" {
			out = append(out, c.Name)
		}
	}
	return out
}
