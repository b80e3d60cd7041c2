// Command alone runs the statements of a file with the engine alone and prints the rows of the last one as CSV: what a query costs without the lake.
package main

import (
	"database/sql"
	"encoding/csv"
	"fmt"
	"os"
	"strings"

	_ "github.com/duckdb/duckdb-go/v2"
)

func main() {
	if err := run(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// run asks the last of the file's statements; between two of them stands a line of dashes.
func run(name string) error {
	text, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	db, err := sql.Open("duckdb", "")
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1) // Settings are a connection's.
	list := strings.Split(string(text), "\n----\n")
	for _, s := range list[:len(list)-1] {
		if _, err := db.Exec(s); err != nil {
			return err
		}
	}
	rows, err := db.Query(list[len(list)-1])
	if err != nil {
		return err
	}
	names, err := rows.Columns()
	if err != nil {
		return err
	}
	out := csv.NewWriter(os.Stdout)
	cells, into, texts := make([]any, len(names)), make([]any, len(names)), make([]string, len(names))
	for i := range cells {
		into[i] = &cells[i]
	}
	for err = out.Write(names); err == nil && rows.Next(); err = out.Write(texts) {
		if err = rows.Scan(into...); err != nil {
			return err
		}
		for i, c := range cells {
			if texts[i] = ""; c != nil {
				texts[i] = fmt.Sprint(c)
			}
		}
	}
	if err == nil {
		err = rows.Err()
	}
	out.Flush()
	return err
}
