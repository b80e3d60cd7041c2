package mdf4

import "math"

// mostCodes is how many different texts beside numbers are stored as codes.
const mostCodes = 1000

// coded stores a channel of numbers and texts as numbers, some of which a conversion turns into texts; all others stay. It is
// false when there are too many texts.
func (k column) coded(c Channel, rows int) (column, bool) {
	taken := map[float64]bool{}
	for _, v := range c.Values {
		taken[v] = true
	}
	k = k.numbers(c, rows)
	codes := map[string]float64{}
	var order []string
	next := -1.0
	for i := range rows {
		s := c.Texts[i]
		if s == "" {
			continue
		}
		v, ok := codes[s]
		if !ok {
			for taken[next] {
				next--
			}
			if len(order) == mostCodes {
				return k, false
			}
			v = next
			codes[s], order = v, append(order, s)
			next--
		}
		k.raw[i], k.missing[i] = v, false
	}
	k.codes = states(order, codes)
	return k, true
}

// states is a CC block: value to text, with all other values left as they are.
func states(order []string, codes map[string]float64) *block {
	const linear, valueToText, statusText = 1, 7, 4
	same := conversion(linear, 0, nil, []float64{0, 1})
	var refs []*block
	var keys []float64
	for _, s := range order {
		refs, keys = append(refs, text(s)), append(keys, codes[s])
	}
	return conversion(valueToText, statusText, append(refs, same), keys)
}

func conversion(kind byte, flags uint16, refs []*block, values []float64) *block {
	b := &block{id: "CC", links: append(make([]*block, 4), refs...), data: make([]byte, 24, 24+8*len(values))}
	b.data[0] = kind
	le.PutUint16(b.data[2:], flags)
	le.PutUint16(b.data[4:], uint16(len(refs)))
	le.PutUint16(b.data[6:], uint16(len(values)))
	for _, v := range values {
		b.data = le.AppendUint64(b.data, math.Float64bits(v))
	}
	return b
}
