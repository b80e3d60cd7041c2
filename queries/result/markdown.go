package result

import (
	"context"
	"fmt"
	"io"
	"strings"
)

// writeMarkdown prints a table with pipes; numbers are aligned to the right.
func writeMarkdown(ctx context.Context, w io.Writer, rows *Rows, o Options) error {
	styles := styles(rows.Columns(), o)
	escape := escapes()
	head, rule := "|", "|"
	for _, s := range styles {
		head += " " + escape.Replace(Harmless(s.head)) + " |"
		if s.right {
			rule += " ---: |"
		} else {
			rule += " --- |"
		}
	}
	if _, err := fmt.Fprintf(w, "%s\n%s\n", head, rule); err != nil {
		return fmt.Errorf("write rows as markdown: %w", err)
	}
	err := each(ctx, rows, func(row []any) error {
		var line strings.Builder
		line.WriteByte('|')
		for i, v := range row {
			line.WriteString(" " + escape.Replace(styles[i].cell(v)) + " |")
		}
		_, err := fmt.Fprintln(w, line.String())
		return err
	})
	if err != nil {
		return fmt.Errorf("write rows as markdown: %w", err)
	}
	return nil
}

// escapes keep a text from ending its cell or from becoming markup.
func escapes() *strings.Replacer {
	return strings.NewReplacer(`\`, `\\`, "|", `\|`, "<", "&lt;", "&", "&amp;", "`", "\\`", "*", `\*`, "[", `\[`)
}
