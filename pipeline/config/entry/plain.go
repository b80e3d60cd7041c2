package entry

import "strings"

// Most files are written in a small part of YAML: maps and lists by their indents, values without quotes, short lists and maps in brackets on one line. A hundred
// vehicles in that part are read in a quarter of the time that all of YAML takes, and every command reads them. What is not surely of that part is left to the whole reader.

// plain reads files of that part; odd is set by whatever is not of it, and then nothing that was read counts.
type plain struct {
	file  string
	lines []plainLine
	next  int
	count int
	odd   bool
}

// plainLine is a line that says something.
type plainLine struct {
	number, indent int
	text           string // Without its indent.
}

// parsePlain reads a file, or tells that it is not of the part.
func parsePlain(file, text string) (Value, bool) {
	p := plain{file: file}
	number := 0
	for line := range strings.Lines(text) {
		number++
		line = strings.TrimSuffix(line, "\n")
		bare := strings.TrimLeft(line, " ")
		p.odd = p.odd || strings.HasSuffix(line, " ")
		comment := bare == "" || bare[0] == '#'
		for i := range len(bare) {
			p.odd = p.odd || bare[i] < ' ' || bare[i] > '~' && !comment
		}
		if comment {
			continue
		}
		p.odd = p.odd || strings.Contains(strings.ToLower(bare), "null") // A word for nothing.
		p.lines = append(p.lines, plainLine{number, len(line) - len(bare), bare})
	}
	if p.odd || len(p.lines) == 0 || p.lines[0].indent > 0 || p.lines[0].text[0] == '-' {
		return Value{}, false
	}
	v := p.block(0, 0)
	return v, !p.odd && p.next == len(p.lines) && p.count <= maxValues
}

// block reads the map or list whose entries begin at an indent.
func (p *plain) block(indent, depth int) Value {
	line := p.lines[p.next]
	v := Value{At: Position{p.file, line.number, indent + 1}, Kind: Map}
	if dashed(line.text) {
		v.Kind = List
	}
	if p.count++; depth > maxDepth {
		p.odd = true
	}
	for !p.odd && p.next < len(p.lines) && p.lines[p.next].indent == indent && dashed(p.lines[p.next].text) == (v.Kind == List) {
		if line = p.lines[p.next]; v.Kind == List {
			v.Items = append(v.Items, p.item(line, depth))
			continue
		}
		name, rest, ok := strings.Cut(line.text, ":")
		at := Position{p.file, line.number, indent + 1}
		_, twice := v.Field(name)
		p.count++
		p.odd = p.odd || !ok || twice || !isFolded(name) || name == "" || rest != "" && rest[0] != ' '
		v.Fields = append(v.Fields, Field{name, at, p.value(line, len(line.text)-len(rest), depth+1)})
	}
	return v
}

const flowMarks = ":{}[]%"

func dashed(text string) bool { return strings.HasPrefix(text, "- ") }

// item reads what stands behind a dash: a value, or a map whose first field stands there.
func (p *plain) item(line plainLine, depth int) Value {
	rest := strings.TrimPrefix(line.text, "- ")
	p.odd = p.odd || rest[0] == ' ' || rest[0] == '#'
	name, behind, ok := strings.Cut(rest, ":")
	if ok && isFolded(name) && (behind == "" || behind[0] == ' ') {
		p.lines[p.next].indent, p.lines[p.next].text = line.indent+2, rest
		return p.block(line.indent+2, depth+1)
	}
	return p.value(line, len("- ")-1, depth+1)
}

// value reads what stands in a line from a place on, or the block beneath where nothing does.
func (p *plain) value(line plainLine, from, depth int) Value {
	p.next++
	rest, _, _ := strings.Cut(line.text[from:], " #")
	rest = strings.TrimRight(rest, " ")
	deeper, below := false, false
	if p.next < len(p.lines) {
		next := p.lines[p.next]
		deeper = next.indent > line.indent
		below = deeper || next.indent == line.indent && dashed(next.text) // A list may stand right beneath its name.
	}
	if rest == "" {
		if p.odd = p.odd || !below; p.odd {
			return Value{}
		}
		return p.block(p.lines[p.next].indent, depth)
	}
	p.odd = p.odd || deeper || depth > maxDepth // What goes on in the next line.
	text := strings.TrimLeft(rest, " ")
	at := Position{p.file, line.number, line.indent + from + len(rest) - len(text) + 1}
	if text[0] == '[' || text[0] == '{' {
		return p.flow(at, text, depth)
	}
	return p.scalar(at, text, ":")
}

// flow reads a list or map in brackets, of values without brackets.
func (p *plain) flow(at Position, text string, depth int) Value {
	v := Value{At: at, Kind: List}
	ends := "]"
	if text[0] == '{' {
		v.Kind, ends = Map, "}"
	}
	p.count++
	inner, ok := strings.CutSuffix(text[1:], ends)
	p.odd = p.odd || !ok || depth >= maxDepth
	column := at.Column + 1
	for part := range strings.SplitSeq(inner, ",") {
		bare := strings.TrimLeft(part, " ")
		at := Position{at.File, at.Line, column + len(part) - len(bare)}
		column += len(part) + 1
		bare = strings.TrimRight(bare, " ")
		if v.Kind == List {
			v.Items = append(v.Items, p.scalar(at, bare, flowMarks))
			continue
		}
		name, rest, ok := strings.Cut(bare, ": ")
		_, twice := v.Field(name)
		p.count++
		p.odd = p.odd || !ok || twice || !isFolded(name) || name == ""
		value := at
		text := strings.TrimLeft(rest, " ")
		value.Column += len(bare) - len(text)
		v.Fields = append(v.Fields, Field{name, at, p.scalar(value, text, flowMarks)})
	}
	return v
}

// scalar takes a text as it stands, where it surely stands for itself: it begins with a letter, a digit or a sign before one, and holds none of the marks.
func (p *plain) scalar(at Position, text, marks string) Value {
	p.count++
	first := strings.TrimLeft(text, "+-.")
	p.odd = p.odd || first == "" || len(text)-len(first) > 1 || !isFolded(strings.ToLower(first[:1])) || first[0] == '_' ||
		strings.ContainsAny(text, marks+"#\"'`\\&*!|>@?~")
	return Value{At: at, Kind: Scalar, Text: text}
}
