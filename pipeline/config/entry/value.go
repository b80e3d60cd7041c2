package entry

import (
	"errors"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// Position is a place in a file, counted from 1.
type Position struct {
	File         string
	Line, Column int
}

// String gives file:line:column.
func (p Position) String() string { return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column) }

// Errorf makes an error that begins with the position and, where there is one, the field's name.
func (p Position) Errorf(field, format string, args ...any) error {
	if field != "" {
		field = " " + field
	}
	return fmt.Errorf("%s%s: %w", p, field, fmt.Errorf(format, args...))
}

// Kind is what a value is.
type Kind int

// The kinds of value. An empty field is Null, which counts as not stated.
const (
	Null Kind = iota
	Scalar
	List
	Map
)

// Value is one value of a file, with what it holds by its kind.
type Value struct {
	At     Position
	Kind   Kind
	Text   string // As written, without quotes.
	Items  []Value
	Fields []Field
}

// Field is one entry of a map.
type Field struct {
	Name  string // As written.
	At    Position
	Value Value
}

const (
	maxValues = 100_000 // Of one file after aliases are unfolded; a guard against files made to explode.
	maxDepth  = 50
)

// Parse reads a YAML file of one document. An empty file, or one of comments alone, gives a Null. Errors begin with
// file:line:column.
func Parse(file string, data []byte) (Value, error) {
	start := Position{file, 1, 1}
	parsed, err := parser.ParseBytes(data, 0)
	if err != nil {
		var syntax yaml.Error
		if errors.As(err, &syntax) && syntax.GetToken() != nil {
			at := syntax.GetToken().Position
			return Value{}, Position{file, at.Line, at.Column}.Errorf("", "read YAML: %s", syntax.GetMessage())
		}
		return Value{}, start.Errorf("", "read YAML: %w", err)
	}
	c := converter{file: file, anchors: map[string]ast.Node{}}
	root := Value{At: start}
	seen := false
	for _, doc := range parsed.Docs {
		if doc.Body == nil {
			continue
		}
		if seen {
			return Value{}, c.at(doc.Body).Errorf("", "found a second document: want one, without a line of three dashes")
		}
		seen = true
		if root, err = c.value(doc.Body, 0); err != nil {
			return Value{}, err
		}
	}
	return root, nil
}

type converter struct {
	file    string
	anchors map[string]ast.Node
	count   int
}

func (c *converter) at(n ast.Node) Position {
	if m, ok := n.(*ast.MappingNode); ok && len(m.Values) > 0 && !m.IsFlowStyle {
		n = m.Values[0].Key // A block map's own token is its first colon.
	}
	if m, ok := n.(*ast.MappingValueNode); ok {
		n = m.Key
	}
	p := n.GetToken().Position
	return Position{c.file, p.Line, max(p.Column, 1)}
}

func (c *converter) value(n ast.Node, depth int) (Value, error) {
	v := Value{At: c.at(n)}
	if c.count++; c.count > maxValues || depth > maxDepth {
		return v, v.At.Errorf("", "read YAML: more than %d values or %d levels", maxValues, maxDepth)
	}
	switch n := n.(type) {
	case *ast.NullNode:
		return v, nil
	case *ast.AnchorNode:
		c.anchors[n.Name.GetToken().Value] = n.Value
		return c.value(n.Value, depth+1)
	case *ast.AliasNode:
		name := n.Value.GetToken().Value
		target, ok := c.anchors[name]
		if !ok {
			return v, v.At.Errorf("", "read YAML: no anchor named %q before this", name)
		}
		return c.value(target, depth+1)
	case *ast.TagNode:
		return c.value(n.Value, depth+1)
	case *ast.LiteralNode:
		v.Kind, v.Text = Scalar, n.Value.Value
	case *ast.SequenceNode:
		v.Kind = List
		for _, item := range n.Values {
			i, err := c.value(item, depth+1)
			if err != nil {
				return v, err
			}
			v.Items = append(v.Items, i)
		}
	case *ast.MappingNode:
		v.Kind = Map
		return v, c.fields(&v, n.Values, depth)
	case *ast.MappingValueNode:
		v.Kind = Map
		return v, c.fields(&v, []*ast.MappingValueNode{n}, depth)
	default:
		v.Kind, v.Text = Scalar, n.GetToken().Value
	}
	return v, nil
}

// fields fills a map. A merge key (<<) brings in another map's fields that are not given here.
func (c *converter) fields(v *Value, nodes []*ast.MappingValueNode, depth int) error {
	var merged []Field
	for _, n := range nodes {
		value, err := c.value(n.Value, depth+1)
		if err != nil {
			return err
		}
		if _, ok := n.Key.(*ast.MergeKeyNode); ok {
			merged = append(merged, value.Fields...)
			for _, item := range value.Items {
				merged = append(merged, item.Fields...)
			}
			continue
		}
		name, err := c.value(n.Key, depth+1)
		if err != nil {
			return err
		}
		for _, f := range v.Fields {
			if Fold(f.Name) == Fold(name.Text) {
				return name.At.Errorf(name.Text, "found %q a second time: it stands in line %d already", name.Text, f.At.Line)
			}
		}
		v.Fields = append(v.Fields, Field{name.Text, name.At, value})
	}
	for _, f := range merged {
		if _, ok := v.Field(f.Name); !ok {
			v.Fields = append(v.Fields, f)
		}
	}
	return nil
}

// Field finds a map's field by its folded name.
func (v Value) Field(name string) (Field, bool) {
	for _, f := range v.Fields {
		if Fold(f.Name) == Fold(name) {
			return f, true
		}
	}
	return Field{}, false
}

var folds = strings.NewReplacer(" ", "_", "-", "_", "\u00a0", "_")

// Fold brings a field's name into one spelling: lower case, with underscores.
func Fold(name string) string {
	if isFolded(name) {
		return name
	}
	return folds.Replace(strings.ToLower(strings.Join(strings.Fields(name), " ")))
}

// isFolded tells the names that Fold leaves as they are: most of those in files, and all that the program asks for.
func isFolded(name string) bool {
	for i := range len(name) {
		if b := name[i]; (b < 'a' || b > 'z') && (b < '0' || b > '9') && b != '_' {
			return false
		}
	}
	return true
}
