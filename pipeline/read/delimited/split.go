package delimited

import "bytes"

// blanks is the delimiter of tables whose columns stand apart by runs of blanks.
const blanks = ' '

const (
	maxCells     = 1 << 14  // Cells a line; what follows is one last cell.
	maxQuoted    = 64 << 10 // How far a quoted cell may run on over line ends.
	maxQuotedEnd = 32       // And over how many.
)

// record splits the line at the start of b, and with it the lines that a quoted cell runs over. It returns the cells, trimmed
// of blanks and quotes, the bytes taken with the line ending, and how many lines those are. A quote that is never closed, or
// whose closing gives another number of cells than want (where that is not 0), is a plain character.
func record(b []byte, delim, eol byte, want int, dst [][]byte) (cells [][]byte, taken, lines int) {
	end, next := lineEnd(b, 0, eol)
	cells, open := split(trimReturn(b[:end]), delim, false, dst)
	if !open {
		return cells, next, 1
	}
	to := next
	for lines = 2; lines <= maxQuotedEnd && to < len(b) && to < maxQuoted; lines++ {
		var more int
		more, to = lineEnd(b, to, eol)
		if cells, open = split(trimReturn(b[:more]), delim, false, dst); !open {
			if want == 0 || len(cells) == want {
				return cells, to, lines
			}
			break
		}
	}
	cells, _ = split(trimReturn(b[:end]), delim, true, dst)
	return cells, next, 1
}

// lineEnd finds where the line that starts at from ends and where the next one starts.
func lineEnd(b []byte, from int, eol byte) (end, next int) {
	if i := bytes.IndexByte(b[from:], eol); i >= 0 {
		return from + i, from + i + 1
	}
	return len(b), len(b)
}

// split cuts one line into cells appended to dst[:0]. open says that a quoted cell does not end in it; literal takes quotes
// for plain characters.
func split(line []byte, delim byte, literal bool, dst [][]byte) (cells [][]byte, open bool) {
	cells = dst[:0]
	if delim == blanks {
		line = trim(line)
	}
	for i := 0; ; {
		for i < len(line) && line[i] == ' ' {
			i++
		}
		if delim == blanks {
			for i < len(line) && (line[i] == ' ' || line[i] == '\t') {
				i++
			}
		}
		if i < len(line) && line[i] == '"' && !literal {
			cell, end, ok := quoted(line, i, delim)
			if !ok {
				return append(cells, trim(line[i+1:])), true
			}
			if end >= 0 {
				cells = append(cells, cell)
				if end >= len(line) {
					return cells, false
				}
				i = end + 1
				continue
			}
		}
		end := cellEnd(line, i, delim)
		if end < 0 || len(cells) >= maxCells-1 {
			return append(cells, trim(line[i:])), false
		}
		cells = append(cells, trim(line[i:end]))
		i = end + 1
	}
}

func cellEnd(line []byte, from int, delim byte) int {
	if delim == blanks {
		for i := from; i < len(line); i++ {
			if line[i] == ' ' || line[i] == '\t' {
				return i
			}
		}
		return -1
	}
	if i := bytes.IndexByte(line[from:], delim); i >= 0 {
		return from + i
	}
	return -1
}

// quoted reads the cell whose opening quote is at i. end is where its delimiter stands or len(line); ok is false when the
// line ends before the cell does. A quote inside that no delimiter follows is part of the text.
func quoted(line []byte, i int, delim byte) (cell []byte, end int, ok bool) {
	doubled := false
	for at := i + 1; ; {
		q := bytes.IndexByte(line[at:], '"')
		if q < 0 {
			return nil, -1, false
		}
		at += q + 1
		if !doubled && ended(line, at, len(line), delim) {
			return trim(line[i+1 : at-1]), at, true
		}
		if at < len(line) && line[at] == '"' {
			doubled = true
			at++
			continue
		}
		behind := at
		for behind < len(line) && (line[behind] == ' ' || line[behind] == '\t' && delim != '\t') {
			behind++
		}
		if behind < len(line) && line[behind] != delim && (delim != blanks || behind == at) {
			continue
		}
		if delim == blanks && behind > at {
			behind = at
		}
		cell = trim(line[i+1 : at-1])
		if doubled {
			cell = bytes.ReplaceAll(cell, []byte(`""`), []byte(`"`))
		}
		return cell, behind, true
	}
}

// trim takes blanks and tabs off both ends.
func trim(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t') {
		b = b[:len(b)-1]
	}
	return b
}
