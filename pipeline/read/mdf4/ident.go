package mdf4

import (
	"fmt"
	"strings"
)

// ident is a file's identification: its first 64 bytes.
type ident struct {
	mark       string // MDF or UnFinMF; empty when it is neither.
	version    int    // 410 for 4.10.
	unfinished uint16
}

// identify reads the identification. The error says why a file cannot be read; mark is set when it is MDF nevertheless.
func identify(head []byte) (ident, error) {
	if len(head) == 0 {
		return ident{}, fmt.Errorf("the file is empty")
	}
	var id ident
	switch start := string(head[:min(8, len(head))]); start {
	case "MDF     ", "UnFinMF ":
		id.mark = strings.TrimSpace(start)
	default:
		return ident{}, fmt.Errorf("no mark %q or %q at its beginning: found %q", "MDF     ", "UnFinMF ", start)
	}
	if len(head) < 64 {
		return ident{}, fmt.Errorf("the mark %q stands at its beginning, but the file is cut: its %d bytes end within the identification of 64", id.mark, len(head))
	}
	text := strings.TrimRight(string(head[8:16]), " \x00")
	id.version = int(le.Uint16(head[28:]))
	switch major := id.version / 100; {
	case strings.HasPrefix(text, "3.") || strings.HasPrefix(text, "2."):
		return id, fmt.Errorf("an MDF %s file: versions 4.00 to 4.20 are read; convert it to MDF 4 with the tool that wrote it", text)
	case major != 4 && !strings.HasPrefix(text, "4."):
		return id, fmt.Errorf("an MDF file of version %q (%d): versions 4.00 to 4.20 are read", text, id.version)
	case major != 4:
		return id, fmt.Errorf("an MDF file that calls itself version %q and %d: the identification is damaged", text, id.version)
	}
	if id.mark == "UnFinMF" {
		id.unfinished = le.Uint16(head[60:]) | unfinishedMark
	}
	return id, nil
}

// What an unfinished file's marks say is not up to date.
const (
	staleCycles    = 1 << 0
	staleLength    = 1 << 2 // Of the last DT block.
	staleList      = 1 << 4 // The last DL block of each list.
	staleOffsets   = 1 << 6 // Of texts in records of their own.
	unfinishedMark = 1 << 15
)
