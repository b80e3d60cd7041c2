package result

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/mattn/go-runewidth"
)

// sized is how many rows a table holds back to find its columns' widths. Rows after them are printed as they come, and one
// that is wider is cut.
const sized = 1000

// textLimit bounds a column of text on a terminal, as long as the other columns need the room.
const textLimit = 40

// listed is how many of the columns without room are named.
const listed = 6

type sheet struct {
	w      io.Writer
	styles []style
	widths []int
	shown  int // The first columns, as many as the terminal has room for.
	limit  int
	held   [][]string
	open   bool
	rows   int
}

// writeTable prints aligned columns under their names.
func writeTable(ctx context.Context, w io.Writer, rows *Rows, o Options) error {
	t := &sheet{w: w, styles: styles(rows.Columns(), o), limit: o.Width}
	err := each(ctx, rows, func(row []any) error {
		line := make([]string, len(row))
		for i, v := range row {
			line[i] = t.styles[i].lines(v)
		}
		t.rows++
		if !t.open {
			t.held = append(t.held, line)
			if len(t.held) < sized {
				return nil
			}
			return t.begin()
		}
		return t.print(line)
	})
	if err == nil && !t.open {
		err = t.begin()
	}
	if err == nil {
		err = t.end()
	}
	if err != nil {
		return fmt.Errorf("write rows as a table: %w", err)
	}
	return nil
}

// begin sizes the columns, prints their names and what was held back.
func (t *sheet) begin() error {
	t.open = true
	t.widths = make([]int, len(t.styles))
	full := make([]int, len(t.styles))
	for i, s := range t.styles {
		full[i] = runewidth.StringWidth(Harmless(s.head))
		for _, line := range t.held {
			full[i] = max(full[i], width(line[i]))
		}
		t.widths[i] = full[i]
		if t.limit > 0 && !s.right {
			t.widths[i] = min(full[i], max(textLimit, runewidth.StringWidth(Harmless(s.head))))
		}
	}
	t.fit()
	t.widen(full)
	heads, rules := make([]string, len(t.styles)), make([]string, len(t.styles))
	for i, s := range t.styles {
		heads[i], rules[i] = Harmless(s.head), strings.Repeat("─", t.widths[i])
	}
	for _, line := range append([][]string{heads, rules}, t.held...) {
		if err := t.print(line); err != nil {
			return err
		}
	}
	t.held = nil
	return nil
}

// fit counts the columns that the terminal has room for, one at the least.
func (t *sheet) fit() {
	t.shown = len(t.widths)
	if t.limit <= 0 {
		return
	}
	room := t.limit
	for i, w := range t.widths {
		if room -= w; room < 0 && i > 0 {
			t.shown = i
			return
		}
		room -= 2
	}
}

// widen gives the room that is left to the columns that were cut, the first ones first.
func (t *sheet) widen(full []int) {
	spare := t.limit - 2*(t.shown-1)
	for _, w := range t.widths[:t.shown] {
		spare -= w
	}
	for i := range t.widths[:t.shown] {
		more := max(0, min(spare, full[i]-t.widths[i]))
		t.widths[i] += more
		spare -= more
	}
}

// print writes one row, on as many lines as its cell with the most.
func (t *sheet) print(row []string) error {
	parts, most := make([][]string, t.shown), 1
	for i := range parts {
		parts[i] = strings.Split(row[i], "\n")
		most = max(most, len(parts[i]))
	}
	var b strings.Builder
	for k := range most {
		var line strings.Builder
		for i, p := range parts {
			if i > 0 {
				line.WriteString("  ")
			}
			if k < len(p) {
				t.put(&line, i, p[k])
			} else {
				t.put(&line, i, "")
			}
		}
		b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
	_, err := io.WriteString(t.w, b.String())
	return err
}

// put writes one text in its column's width: numbers to the right, texts to the left and cut where they are longer.
func (t *sheet) put(b *strings.Builder, i int, text string) {
	if runewidth.StringWidth(text) > t.widths[i] && !t.styles[i].right {
		text = runewidth.Truncate(text, t.widths[i], "…")
	}
	gap := strings.Repeat(" ", max(0, t.widths[i]-runewidth.StringWidth(text)))
	if t.styles[i].right {
		text, gap = gap, text
	}
	b.WriteString(text + gap)
}

// width of a cell is that of its longest line.
func width(cell string) int {
	w := 0
	for line := range strings.SplitSeq(cell, "\n") {
		w = max(w, runewidth.StringWidth(line))
	}
	return w
}

// end says what the eye would miss: that there are no rows, or that columns found no room.
func (t *sheet) end() error {
	var err error
	if t.rows == 0 {
		_, err = fmt.Fprintln(t.w, "(no rows)")
	}
	if hidden := len(t.styles) - t.shown; hidden > 0 && err == nil {
		var names []string
		for _, s := range t.styles[t.shown:min(t.shown+listed, len(t.styles))] {
			names = append(names, Harmless(s.head))
		}
		if more := hidden - len(names); more > 0 {
			names = append(names, fmt.Sprintf("%d more", more))
		}
		_, err = fmt.Fprintf(t.w, "(no room for %s: widen the window, name the columns you want, or use another format)\n", strings.Join(names, ", "))
	}
	return err
}
