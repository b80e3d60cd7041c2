package result

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strings"
)

// Format is a form that rows can be printed in.
type Format string

// The formats.
const (
	Table    Format = "table"
	CSV      Format = "csv"
	JSON     Format = "json"
	Parquet  Format = "parquet"
	Markdown Format = "markdown"
)

// ParseFormat finds a format by its name.
func ParseFormat(name string) (Format, error) {
	switch f := Format(strings.ToLower(strings.TrimSpace(name))); f {
	case Table, CSV, JSON, Parquet, Markdown:
		return f, nil
	}
	return "", fmt.Errorf("read format %q: want table, csv, json, parquet or markdown", name)
}

// Options say how tables for people look; CSV and JSON heed none of them, Parquet carries the declared units.
type Options struct {
	Units    Units
	Declared map[string]string // Units of columns, by name, where a query declares them; else their suffix says it.
	Width    int               // Columns of the terminal; 0: no limit.
}

// Write prints the rows that are left and closes them. Cancelling the context stops it between two rows.
func Write(ctx context.Context, w io.Writer, rows *Rows, f Format, o Options) (err error) {
	defer func() {
		if e := rows.Close(); err == nil {
			err = e
		}
	}()
	if f == Parquet {
		return writeParquet(ctx, w, rows, o)
	}
	buffered := bufio.NewWriterSize(w, 64<<10)
	switch f {
	case Table:
		err = writeTable(ctx, buffered, rows, o)
	case CSV:
		err = writeCSV(ctx, buffered, rows)
	case JSON:
		err = writeJSON(ctx, buffered, rows)
	case Markdown:
		err = writeMarkdown(ctx, buffered, rows, o)
	default:
		return fmt.Errorf("write rows: unknown format %q", f)
	}
	if err != nil {
		return err
	}
	if err := buffered.Flush(); err != nil {
		return fmt.Errorf("write rows as %s: %w", f, err)
	}
	return nil
}

// each calls do for every row that is left.
func each(ctx context.Context, rows *Rows, do func(row []any) error) error {
	for n := 0; rows.Next(); n++ {
		if n%256 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if err := do(rows.Row()); err != nil {
			return err
		}
	}
	return rows.Err()
}
