package mapping

import (
	"regexp"
	"slices"
	"strings"

	"dynolake/schema"
)

// sense is one way to read a channel's header: its words and its unit.
type sense struct {
	key    key
	words  []string // As written, lower case.
	unit   schema.Unit
	stated bool // unit is known.
	from   string
}

var brackets = regexp.MustCompile(`[\[\(<{]([^\[\]\(\)<>{}]*)[\]\)>}]`)

// unstated reports whether a unit's cell only says that there is none.
func unstated(unit string) bool {
	switch strings.ToLower(strings.Trim(strings.TrimSpace(unit), "[](){}<>")) {
	case "", "-", "--", "none", "n/a", "na", "unit", "units", "?":
		return true
	}
	return false
}

// senses gives every way to read a header. strange is the unit as written when it is stated and none that is known.
func (x index) senses(c schema.Channel) (list []sense, strange string) {
	unit, stated := schema.ParseUnit(c.Unit)
	if unstated(c.Unit) {
		unit, stated = schema.Unit{}, false
	} else if !stated {
		if unit, stated = relativeUnit(c.Unit); !stated {
			strange = c.Unit
		}
	}
	c.Name = ends(c.Name)
	name, bracketed := c.Name, ""
	if !stated && strange == "" {
		list = x.thousands(name)
	}
	for _, m := range brackets.FindAllStringSubmatch(c.Name, -1) {
		u, ok := schema.ParseUnit(m[1])
		rest := strings.TrimSpace(strings.Replace(name, m[0], " ", 1))
		if !ok || rest == "" || len(tokens(rest, true)) == 0 || (stated && u.Quantity != unit.Quantity) || strings.TrimSpace(m[1]) == "" {
			continue
		}
		name, bracketed = rest, m[1]
	}
	if bracketed != "" {
		inside, _ := schema.ParseUnit(bracketed)
		switch {
		case !stated && unstated(bracketed):
			list = append(list, x.read(name, schema.Unit{}, false, "")...)
		case !stated:
			list = append(list, x.read(name, inside, true, "in the name")...)
		default:
			unit = withReference(unit, inside.Reference)
			list = append(list, x.read(name, unit, true, "stated")...)
		}
	}
	from := ""
	if stated {
		from = "stated"
	}
	list = append(list, x.read(c.Name, unit, stated, from)...)
	if name := withoutInitials(name); name != "" {
		list = append(list, x.read(name, unit, stated, from)...)
	}
	return list, strange
}

// thousands reads a name that is a unit of engine speed and nothing else: RPM x1000.
func (x index) thousands(name string) []sense {
	if u, ok := schema.ParseUnit(name); ok && u.Quantity == "angular speed" && u.Factor != 1 {
		return x.read("rpm", u, true, "in the name")
	}
	return nil
}

var acronym = regexp.MustCompile(`\s*[\[(]([A-Z]{2,6})[\])]`)

// withoutInitials takes an acronym in brackets away that the name spells out: Exhaust Manifold Pressure (EMP). It is empty where
// there is none, for any other word in brackets may change what is meant.
func withoutInitials(name string) string {
	m := acronym.FindStringSubmatch(name)
	if m == nil {
		return ""
	}
	rest := strings.Replace(name, m[0], " ", 1)
	left := strings.ToLower(m[1])
	for _, t := range tokens(rest, true) {
		if left != "" && t[0] == left[0] {
			left = left[1:]
		}
	}
	if left != "" {
		return ""
	}
	return strings.TrimSpace(rest)
}

// relativeUnit reads a pressure's unit that says relative: bar rel.
func relativeUnit(text string) (schema.Unit, bool) {
	w := tokens(text, false)
	if n := len(w); n > 1 && contains([]string{"rel", "relative", "relativ"}, w[n-1]) {
		if u, ok := schema.ParseUnit(strings.Join(w[:n-1], "")); ok && u.Quantity == "pressure" {
			return withReference(u, schema.Gauge), true
		}
	}
	return schema.Unit{}, false
}

func withReference(u schema.Unit, r schema.Reference) schema.Unit {
	if u.Reference == "" {
		u.Reference = r
	}
	return u
}

// read splits a name with and without its letters' case, and with and without a unit at its end.
func (x index) read(name string, unit schema.Unit, stated bool, from string) []sense {
	var list []sense
	seen := map[string]bool{}
	for _, camel := range []bool{true, false} {
		raw := x.apartAll(tokens(name, camel))
		for cut := min(3, len(raw)-1); cut >= 0; cut-- {
			s := sense{words: raw, unit: unit, stated: stated, from: from}
			body := raw[:len(raw)-cut]
			if cut > 0 {
				end, ok := trailing(raw[len(raw)-cut:])
				if !ok || (stated && end.Quantity != unit.Quantity) {
					continue
				}
				if stated {
					s.unit = withReference(unit, end.Reference)
				} else {
					s.unit, s.stated, s.from = end, true, "in the name"
				}
			}
			for _, body := range withoutIn(name, body, cut > 0) {
				id := strings.Join(body, " ") + "|" + s.unit.Name + string(s.unit.Reference)
				if seen[id] {
					continue
				}
				seen[id] = true
				s.key = x.words.key(x.words.canonical(body))
				list = append(list, s)
			}
		}
	}
	if body, end, ok := spelledEnd(name); ok && !stated {
		for _, camel := range []bool{true, false} {
			raw := x.apartAll(tokens(body, camel))
			list = append(list, sense{words: raw, unit: end, stated: true, from: "in the name", key: x.words.key(x.words.canonical(raw))})
		}
	}
	return list
}

// withoutIn takes the "in" before a unit off a name's words: n in rpm. Without blanks about it it may be an inlet as well: p_turbine_in_kPa.
func withoutIn(name string, body []string, unit bool) [][]string {
	n := len(body)
	if !unit || n < 2 || body[n-1] != "in" {
		return [][]string{body}
	}
	if strings.Contains(name, " in ") {
		return [][]string{body[:n-1]}
	}
	return [][]string{body, body[:n-1]}
}

// spelledEnd reads a unit of signs at a name's end, which its words alone do not show: speed m/s, Fuel_mm3/stk, p kgf/cm2 (g).
func spelledEnd(name string) (body string, unit schema.Unit, ok bool) {
	for i, r := range name {
		if i == 0 || r != ' ' && r != '_' || !strings.ContainsAny(name[i:], "/^") {
			continue
		}
		if u, known := schema.ParseUnit(name[i:]); known && !dimensionless(u) {
			return name[:i], u, true
		}
	}
	return "", schema.Unit{}, false
}

func (x index) apartAll(raw []string) []string {
	var out []string
	for _, t := range raw {
		out = append(out, x.words.apart(t)...)
	}
	return out
}

// trailing reads the last words of a name as a unit: km h, deg c, kpa abs, g per s.
func trailing(end []string) (schema.Unit, bool) {
	if len(end) == 3 && (end[1] == "per" || end[1] == "pro") {
		end = []string{end[0], end[2]}
		if u, ok := schema.ParseUnit(end[0] + "/" + end[1]); ok && !dimensionless(u) {
			return u, true
		}
		return schema.Unit{}, false
	}
	for _, glue := range []string{"", "/"} {
		if u, ok := schema.ParseUnit(strings.Join(end, glue)); ok && !dimensionless(u) {
			return u, true
		}
	}
	return schema.Unit{}, false
}

// implied finds a unit within a name's words: rpm, mph, horsepower, or glued to one, as in cycmps. One letter alone implies none.
func (x index) implied(s sense, col schema.Column) (schema.Unit, bool) {
	words := slices.Concat(s.words, s.key.words)
	for _, w := range s.words {
		for _, g := range x.words.glued {
			if rest, ok := strings.CutSuffix(w, g); ok && len(rest) > 1 {
				words = append(words, g)
			}
		}
	}
	for _, w := range words {
		if u, ok := schema.ParseUnit(w); ok && (len(w) > 1 || w == "%") && w != "ch" && // A channel amid a name, a horsepower at its end.
			u.Quantity == col.Quantity && !dimensionless(u) {
			return u, true
		}
	}
	return schema.Unit{}, false
}
