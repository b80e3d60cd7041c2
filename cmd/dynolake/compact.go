package main

import (
	"errors"

	"dynolake/pipeline/lake"

	"github.com/urfave/cli/v2"
)

func compactCommand() *cli.Command {
	return &cli.Command{
		Name:  "compact",
		Usage: "rewrite small files into large ones, each run's rows together; answers stay the same and readers are never kept waiting",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "when-due", Usage: "only where so many small files lie together that reading them costs more than rewriting"},
			&cli.StringFlag{Name: "memory", Usage: "the `SIZE` of memory that the program may take, about, such as 256 MiB: less at a time is merged then", DefaultText: "640 MiB"},
		},
		Action: compact,
	}
}

func compact(c *cli.Context) (err error) {
	if err := noArguments(c); err != nil {
		return err
	}
	budget, err := memory(c)
	if err != nil {
		return err
	}
	defer within(budget)()
	l, err := openLake(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	w, err := l.Write(c.Context, "dynolake compact")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, w.Close()) }()
	done, err := w.Compact(c.Context, lake.Compaction{All: !c.Bool("when-due"), Memory: forMerges(budget)})
	if err != nil {
		return err
	}
	if option(c, "format") != "" {
		row := []any{int64(done.Before), int64(done.After), done.Bytes}
		if err := printTable(c, texts("files_before", "files_after", "bytes_read"), [][]any{row}); err != nil {
			return err
		}
	}
	if done.Before == 0 {
		say(c, "nothing to rewrite")
		return nil
	}
	say(c, "%s became %s", plural(done.Before, "file", "files"), plural(done.After, "larger one", "larger ones"))
	return nil
}

// forMerges is what the row groups of one merge may take of a budget, bytes: what writes them, and garbage, take several times as much. 0 is as usual.
func forMerges(budget int64) int64 { return budget / 6 }
