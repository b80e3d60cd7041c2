package delimited

import (
	"bytes"
	"math"
	"strconv"
)

var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// plain reads a plain decimal that starts at b[i] and returns where it ends; end is i when there is none that it can do
// exactly. Up to 2^53 over a power of ten up to 10^22 are both exact floats, so their quotient is rounded once, as
// strconv.ParseFloat rounds (Clinger, How to Read Floating Point Numbers Accurately, 1990).
func plain(b []byte, i int, point byte) (v float64, end int) {
	at, negative := i, false
	if at < len(b) && (b[at] == '-' || b[at] == '+') {
		negative = b[at] == '-'
		at++
	}
	var m uint64
	start := at
	for at < len(b) {
		d := b[at] - '0'
		if d > 9 {
			break
		}
		m = m*10 + uint64(d)
		at++
	}
	digits, decimals := at-start, 0
	if at < len(b) && b[at] == point {
		at++
		start = at
		for at < len(b) {
			d := b[at] - '0'
			if d > 9 {
				break
			}
			m = m*10 + uint64(d)
			at++
		}
		decimals = at - start
		digits += decimals
	}
	if digits == 0 || digits > 19 || m > 1<<53 {
		return 0, i
	}
	v = float64(m)
	if decimals > 0 {
		v /= pow10[decimals]
	}
	if negative {
		v = -v
	}
	return v, at
}

// unseen stands for the decimal sign of a file that has not shown one; no text holds it.
const unseen = 0x1f

// numerals is how a file writes its numbers.
type numerals struct {
	point byte // '.', ',' or unseen.
	tally *tally
}

// parse reads a cell that is a number and nothing else. It is false for a text, for NaN and for an infinity.
func (n *numerals) parse(cell []byte, line int) (float64, bool) {
	if cap(cell) >= quickRoom && len(cell) > 0 { // A cell is mostly part of a buffer that goes on behind it.
		if v, taken := quick(cell[:quickRoom], 0, n.point); taken == len(cell) {
			return v, true
		}
	}
	if v, taken := plain(cell, 0, n.point); taken == len(cell) && taken > 0 {
		return v, true
	}
	if len(cell) == 0 || len(cell) > 64 {
		return 0, false
	}
	var room [72]byte
	digits, ok := n.normal(cell, room[:0], line)
	if !ok {
		return 0, false
	}
	v, err := strconv.ParseFloat(string(digits), 64)
	if err != nil && !math.IsInf(v, 0) || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, false
	}
	return v, true
}

// normal rewrites a number into strconv's spelling. It is false for what is no decimal number.
func (n *numerals) normal(cell, dst []byte, line int) ([]byte, bool) {
	s, ok := shapeOf(cell)
	if !ok {
		return nil, false
	}
	point := n.signOf(s, cell, line)
	grouped := false
	for i := 0; i < len(cell); {
		sep := separatorAt(cell[i:])
		switch c := cell[i]; {
		case c == point:
			dst = append(dst, '.')
			i++
		case sep != nil:
			grouped = true
			i += len(sep)
		case c == 0xe2: // U+2212, the minus of typesetters.
			dst = append(dst, '-')
			i += 3
		default:
			dst = append(dst, c)
			i++
		}
	}
	if grouped {
		n.tally.add("thousands_separator", line, cell)
	}
	return dst, true
}

// signOf is the decimal sign of one number: the file's, unless the number cannot be read by it.
func (n *numerals) signOf(s shape, cell []byte, line int) byte {
	sign := s.point()
	switch {
	case sign != 0 && n.point == unseen:
		n.point = sign
	case sign != 0 && sign != n.point:
		n.tally.add("mixed_decimal_signs", line, cell)
		return sign
	case n.point == unseen && s.commas == 1 && s.points == 0:
		// Three digits behind a lone comma or point, and nothing seen yet that tells: taken for decimals.
		n.point = ','
		n.tally.add("decimal_sign_guessed", line, cell)
	case n.point == unseen && s.points == 1:
		n.point = '.'
		n.tally.add("decimal_sign_guessed", line, cell)
	}
	return n.point
}

// shape is what a number looks like before its decimal sign is known.
type shape struct {
	commas, points int
	last           byte // The last of the two signs met.
	behind         int  // Digits behind it.
	first          int  // Digits before the first separator.
	zero           bool // The first digit is 0.
	uneven         bool // A group between separators that has not three digits.
}

// point says which sign must be the decimal one, 0 when the shape does not tell: 1,234 may be either.
func (s shape) point() byte {
	switch {
	case s.commas+s.points == 0:
		return 0
	case s.commas > 0 && s.points > 0:
		return s.last
	case s.commas > 1:
		return '.'
	case s.points > 1:
		return ','
	case s.behind != 3 || s.first == 0 || s.first > 3 || s.zero:
		return s.last
	}
	return 0
}

var separators = [...][]byte{{','}, {'.'}, {'\''}, {' '}, {0xc2, 0xa0}, {0xe2, 0x80, 0xaf}, {0xe2, 0x80, 0x89}, {0xa0}}

// shapeOf checks that a cell is written as a decimal number, with or without thousands separators and an exponent.
func shapeOf(cell []byte) (shape, bool) {
	if s, ok := simple(cell); ok {
		return s, true
	}
	return thorough(cell)
}

func thorough(cell []byte) (shape, bool) {
	var s shape
	b := bytes.TrimPrefix(cell, []byte("\xe2\x88\x92"))
	if len(b) > 0 && len(b) == len(cell) && (b[0] == '+' || b[0] == '-') {
		b = b[1:]
	}
	group, groups, total := 0, 0, 0
	for len(b) > 0 && b[0] != 'e' && b[0] != 'E' {
		if c := b[0]; c >= '0' && c <= '9' {
			if total == 0 {
				s.zero = c == '0'
			}
			total++
			group++
			b = b[1:]
			continue
		}
		sep := separatorAt(b)
		if sep == nil {
			return s, false
		}
		if groups == 0 {
			s.first = group
		} else if group != 3 {
			s.uneven = true
		}
		switch {
		case sep[0] == ',':
			s.commas, s.last = s.commas+1, ','
		case sep[0] == '.':
			s.points, s.last = s.points+1, '.'
		case s.commas+s.points > 0 || group == 0:
			return s, false // A blank behind a decimal sign, or two in a row.
		}
		groups++
		group = 0
		b = b[len(sep):]
	}
	s.behind = group
	return s, total > 0 && s.sound(groups) && exponent(b)
}

// simple is shapeOf for what most cells are: digits, a sign before them and one point or comma at the most.
func simple(cell []byte) (s shape, ok bool) {
	if len(cell) > 64 {
		return s, false
	}
	b := cell
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		b = b[1:]
	}
	digits := 0
	for i, c := range b {
		switch {
		case c-'0' <= 9:
			if digits == 0 {
				s.zero = c == '0'
			}
			digits++
		case (c == '.' || c == ',') && s.last == 0:
			s.last, s.first = c, i
		default:
			return shape{}, false
		}
	}
	switch s.behind = digits - s.first; s.last {
	case '.':
		s.points = 1
	case ',':
		s.commas = 1
	}
	return s, digits > 0
}

func separatorAt(b []byte) []byte {
	for _, sep := range separators {
		if bytes.HasPrefix(b, sep) {
			return sep
		}
	}
	return nil
}

// sound tells numbers from dates, versions and lists: separators stand three digits apart save the last, and only one kind
// of sign may come more than once.
func (s shape) sound(groups int) bool {
	others := groups - s.commas - s.points
	switch {
	case groups == 0:
		return true
	case groups == 1 && others == 0:
		return true
	case s.uneven || s.first == 0 || s.first > 3:
		return false
	case s.commas > 1 && s.points > 1:
		return false
	case s.commas > 0 && s.points > 0:
		return s.last == ',' && s.commas == 1 || s.last == '.' && s.points == 1
	case others > 0 && s.commas+s.points <= 1:
		return s.commas+s.points == 1 || s.behind == 3
	}
	return s.behind == 3
}

func exponent(b []byte) bool {
	if len(b) == 0 {
		return true
	}
	b = b[1:]
	if len(b) > 0 && (b[0] == '+' || b[0] == '-') {
		b = b[1:]
	}
	for _, c := range b {
		if c < '0' || c > '9' {
			return false
		}
	}
	return len(b) > 0
}
