package mdf4

import (
	"math"
	"strings"
)

// bitField is one field of a number: the bits of a mask, a name, and what its values mean.
type bitField struct {
	mask uint64
	name string
	to   answer
}

// bitFields is a table of bit fields to text. The masked bits are looked up where they stand, not shifted; what the fields say is
// joined by "|", a field's name before its text.
type bitFields []bitField

// bitFieldText reads masks, which are whole numbers where other kinds have floats, with a conversion for each.
func (t *table) bitFieldText() (conversion, error) {
	n := len(t.vals)
	if len(t.refs) < n {
		return nil, harm("CC", t.at, "%d masks and %d references: its kind needs one for each", n, len(t.refs))
	}
	b := make(bitFields, n)
	for i, v := range t.vals {
		b[i].mask = math.Float64bits(v)
		var err error
		if b[i].to, err = t.answer(t.refs[i]); err != nil {
			return nil, err
		}
		if b[i].name, err = t.title(t.refs[i]); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// title is the name of a conversion; texts have none.
func (t *table) title(at int64) (string, error) {
	if at == 0 {
		return "", nil
	}
	if id, _, _, err := t.head(at, "TX", "MD", "CC"); err != nil || id != "CC" {
		return "", err
	}
	b, err := t.block(at, 4, 24, "CC")
	if err != nil {
		return "", err
	}
	return t.label(b.links[0], "name of a bit field", t.of)
}

func (b bitFields) number(x float64) (float64, string) {
	if math.Abs(x) > math.MaxInt64 || x != math.Trunc(x) {
		return math.NaN(), ""
	}
	bits := uint64(int64(x))
	var said []string
	for _, f := range b {
		_, text := f.to.of(float64(bits & f.mask))
		switch {
		case text == "":
		case f.name != "":
			said = append(said, f.name+" = "+text)
		default:
			said = append(said, text)
		}
	}
	return math.NaN(), strings.Join(said, "|")
}
