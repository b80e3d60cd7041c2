package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"dynolake/cmd/dynolake/night"
	"dynolake/pipeline/config"
	"dynolake/queries/engine"
	"dynolake/queries/report"
	"dynolake/queries/tables"

	"github.com/urfave/cli/v2"
)

func reportCommand() *cli.Command {
	return &cli.Command{
		Name:  "report",
		Usage: "write the comparison report as one HTML file with pictures, and print where it is",
		Description: "What changed, a card for each platform, torque, drive ratio, boost, exhaust, shifts, lambda and filter in pictures, limits and data\n" +
			"quality; beside each the query that gives its numbers. The file needs nothing else: send it, read it on a phone, print it.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "out", Usage: "the `FILE` to write", DefaultText: "LAKE/reports/report.html", TakesFile: true},
		},
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			news, err := lastNews(lakePath(c))
			if err != nil {
				return err
			}
			path, err := writeReport(c, c.String("out"), news, night.Books(lakePath(c)))
			if err != nil {
				return err
			}
			if option(c, "format") != "" {
				return printTable(c, texts("report"), [][]any{{path}})
			}
			_, err = fmt.Fprintln(c.App.Writer, path)
			return err
		},
	}
}

// writeReport writes the report over the lake as it is now to path, or where it usually lies, and tells where that is. What the tables of the books hold
// is not computed again.
func writeReport(c *cli.Context, path string, news *report.News, books map[string]tables.Book) (string, error) {
	_, units, err := presentation(c)
	if err != nil {
		return "", err
	}
	conf, err := config.Load(configDir(c))
	if err != nil {
		return "", err
	}
	set, err := loadPacks(c)
	if err != nil {
		return "", err
	}
	if path == "" {
		path = filepath.Join(lakePath(c), "reports", "report.html")
	}
	err = ask(c, nil, func(ctx context.Context, s *engine.Session) error {
		return diskOf(c).Save(path, 0o666, func(w io.Writer) error {
			return report.Write(ctx, w, report.Input{Session: s, Kept: keeper(c, books), Packs: set, Limits: conf.Limits, Units: units, News: news})
		})
	})
	return path, err
}

// newsFile is where refresh leaves what it found new, for the report of the same night and any later one.
func newsFile(lake string) string { return filepath.Join(lake, "reports", "news.json") }

// lastNews reads what the last refresh found new; nil where there was none.
func lastNews(lake string) (*report.News, error) {
	text, err := os.ReadFile(newsFile(lake))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var n report.News
	if err == nil {
		err = json.Unmarshal(text, &n)
	}
	if err != nil {
		return nil, fmt.Errorf("read the last refresh's news in %s: %w; the next refresh writes it anew", newsFile(lake), err)
	}
	return &n, nil
}

// keepNews leaves what a refresh found new for later reports. It is one step, as the report itself.
func keepNews(c *cli.Context, n *report.News) error {
	err := diskOf(c).Save(newsFile(lakePath(c)), 0o666, func(w io.Writer) error {
		e := json.NewEncoder(w)
		e.SetIndent("", " ")
		return e.Encode(n)
	})
	if err != nil {
		return fmt.Errorf("keep the news: %w", err)
	}
	return nil
}
