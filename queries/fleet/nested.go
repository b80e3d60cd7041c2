package fleet

import (
	"strconv"
	"strings"
)

// nested reads a list, [1,NULL,'a'], of which elements may be lists again.
func nested(cell string) (any, error) {
	p := list{text: cell}
	v, ok := p.element()
	if !ok || p.at != len(p.text) {
		return nil, unfit(cell, "a list")
	}
	return v, nil
}

type list struct {
	text string
	at   int
}

func (p *list) element() (any, bool) {
	if p.at == len(p.text) {
		return nil, false
	}
	switch p.text[p.at] {
	case '[', '(':
		return p.elements()
	case '\'':
		return p.quoted()
	}
	end := p.at + strings.IndexAny(p.text[p.at:]+"]", ",])")
	word := p.text[p.at:end]
	p.at = end
	switch word {
	case "NULL":
		return nil, true
	case "true", "false":
		return word == "true", true
	}
	if n, err := strconv.ParseInt(word, 10, 64); err == nil {
		return n, true
	}
	x, err := strconv.ParseFloat(word, 64)
	return x, err == nil
}

func (p *list) elements() (any, bool) {
	all := []any{}
	for p.at++; p.at < len(p.text); p.at++ {
		if c := p.text[p.at]; len(all) == 0 && (c == ']' || c == ')') {
			p.at++
			return all, true
		}
		v, ok := p.element()
		if !ok || p.at == len(p.text) {
			return nil, false
		}
		all = append(all, v)
		switch p.text[p.at] {
		case ']', ')':
			p.at++
			return all, true
		case ',':
		default:
			return nil, false
		}
	}
	return nil, false
}

func (p *list) quoted() (any, bool) {
	for end := p.at + 1; end < len(p.text); end++ {
		switch p.text[end] {
		case '\\':
			end++
		case '\'':
			word := plain(p.text[p.at+1 : end])
			p.at = end + 1
			return word, true
		}
	}
	return nil, false
}
