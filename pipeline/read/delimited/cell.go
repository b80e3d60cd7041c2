package delimited

import (
	"bytes"
	"strings"
)

// kind is what a cell looks like before the file's decimal sign and clock are known.
type kind uint8

const (
	empty kind = iota
	missing
	infinite
	number
	moment // A date, a time of day or both.
	word
)

func (k kind) void() bool  { return k <= infinite }
func (k kind) value() bool { return k == number || k == moment }

// kindOf looks at a trimmed cell.
func kindOf(cell []byte) kind {
	if len(cell) == 0 {
		return empty
	}
	if _, ok := simple(cell); ok {
		return number
	}
	if k := voidOf(cell); k != word {
		return k
	}
	if len(cell) > 64 || !bytes.ContainsAny(cell, "0123456789") {
		return word
	}
	if _, ok := shapeOf(cell); ok {
		return number
	}
	if unitBehind(cell) != nil {
		return number
	}
	if _, ok := parseStamp(cell, false); ok {
		return moment
	}
	return word
}

// voids are the texts that recorders and spreadsheets write where there is no value, lower case.
var voids = map[string]kind{
	"nan": missing, "-nan": missing, "+nan": missing, "nan(ind)": missing, "-nan(ind)": missing, "n.a.": missing, "n/a": missing, "na": missing, "n.v.": missing,
	"-": missing, "--": missing, "---": missing, "----": missing, "-.-": missing, "–": missing, "—": missing, "#n/a": missing, "#na": missing, "#n/v": missing, "#nv": missing,
	"#wert!": missing, "#value!": missing, "#div/0!": missing, "#num!": missing, "#ref!": missing, "null": missing, "(null)": missing, "nil": missing, "\\n": missing, ".": missing,
	"?": missing, "***": missing, "1.#qnan": missing, "-1.#qnan": missing, "1.#ind": missing, "-1.#ind": missing, "1.#snan": missing, "missing": missing,
	"inf": infinite, "+inf": infinite, "-inf": infinite, "infinity": infinite, "+infinity": infinite, "-infinity": infinite, "∞": infinite, "-∞": infinite, "1.#inf": infinite, "-1.#inf": infinite,
}

// voidOf tells empty, missing and infinite cells; word means none of these.
func voidOf(cell []byte) kind {
	if len(cell) == 0 {
		return empty
	}
	if len(cell) > 12 {
		return word
	}
	var low [12]byte
	for i, c := range cell {
		if c >= 'A' && c <= 'Z' {
			c += 'a' - 'A'
		}
		low[i] = c
	}
	b := low[:len(cell)]
	// 1.#QNAN0 and 1.#INF00 are the same words written with decimals.
	if i := bytes.IndexByte(b, '#'); i > 0 {
		b = bytes.TrimRight(b, "0")
	}
	if k, ok := voids[string(b)]; ok {
		return k
	}
	if strings.Trim(string(b), "\u00a0") == "" {
		return empty
	}
	return word
}

// unitBehind gives the unit that a cell repeats behind its number, such as 101.3 kPa, with the blank before it; nil when there
// is none. A single letter without a blank counts only behind a decimal: 14.2V is a voltage, 1A may be a hexadecimal byte.
func unitBehind(cell []byte) []byte {
	n := 0
	for n < len(cell) && (cell[n] >= '0' && cell[n] <= '9' || cell[n] == '.' || cell[n] == ',' || cell[n] == '-' || cell[n] == '+') {
		n++
	}
	if n == 0 || n == len(cell) {
		return nil
	}
	if _, ok := shapeOf(cell[:n]); !ok {
		return nil
	}
	unit := trim(cell[n:])
	if len(unit) == 0 || len(unit) > 12 || !known(text(unit)) {
		return nil
	}
	if known(text(cell)) {
		return nil // 1/min is a unit itself, and no 1 in /min.
	}
	letter := len(unit) == 1 && (unit[0]|0x20) >= 'a' && (unit[0]|0x20) <= 'z'
	if letter && cell[n] != ' ' && !bytes.ContainsAny(cell[:n], ".,") {
		return nil
	}
	return cell[n:]
}
