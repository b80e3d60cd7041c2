package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"dynolake/pipeline/lake"
	"dynolake/pipeline/publish"
	"dynolake/queries/result"

	"github.com/urfave/cli/v2"
)

func publishCommand() *cli.Command {
	return &cli.Command{
		Name:      "publish",
		Usage:     "copy the lake's tables for a distributed engine: Apache Iceberg tables, or Parquet in month folders",
		ArgsUsage: "DEST",
		Description: "DEST is a folder or s3://bucket/prefix. Only what is new is copied; readers see the snapshot before or the new one.\n" +
			"The store's address and keys come from the environment: AWS_ENDPOINT_URL_S3 or AWS_ENDPOINT_URL, AWS_REGION, AWS_ACCESS_KEY_ID,\n" +
			"AWS_SECRET_ACCESS_KEY, AWS_SESSION_TOKEN, or from the file that AWS_SHARED_CREDENTIALS_FILE names (profile AWS_PROFILE).",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "as", Usage: "`" + strings.Join(publishForms(), "|") + "`", DefaultText: "iceberg"},
			&cli.StringFlag{Name: "location", Usage: "the `URI` where readers will find DEST, when it is to be moved: Iceberg's files name each other by their full addresses", DefaultText: "DEST itself"},
			&cli.DurationFlag{Name: "keep", Usage: "how long superseded Iceberg snapshots stay readable, a `DURATION` of at least 1h", Value: 24 * time.Hour},
		},
		Action: publishTables,
	}
}

func publishForms() []string {
	var list []string
	for _, f := range publish.Forms() {
		list = append(list, string(f))
	}
	return list
}

func publishTables(c *cli.Context) error {
	if c.NArg() != 1 || c.Args().First() == "" {
		return usagef("publish wants one DEST: a folder or s3://bucket/prefix; see dynolake publish --help")
	}
	o := publish.Options{Form: publish.Iceberg, Location: c.String("location"), Keep: c.Duration("keep"), Env: os.Getenv, Now: time.Now, Disk: diskOf(c)}
	if as := strings.ToLower(c.String("as")); as != "" {
		o.Form = publish.Form(as)
		if as != string(publish.Iceberg) && as != string(publish.Parquet) {
			return usagef("read --as %q: want one of %s%s", as, strings.Join(publishForms(), ", "), nearest(as, publishForms()))
		}
	}
	if o.Keep < time.Hour {
		return usagef("read --keep %s: want at least 1h, so that running readers lose nothing", o.Keep)
	}
	if o.Location != "" && !strings.Contains(o.Location, "://") {
		return usagef("read --location %q: want a full address, as s3://bucket/prefix or file:///folder", o.Location)
	}
	l, err := openLake(c)
	if err != nil {
		return err
	}
	if o.Form == publish.Parquet {
		if o.Stated, err = statedTables(c); err != nil {
			return errors.Join(err, l.Close())
		}
	}
	bar := newProgress(c)
	o.Step = bar.step
	report, err := publishInto(c.Context, l, c.Args().First(), o)
	bar.close()
	if err != nil {
		return err
	}
	return showPublished(c, report)
}

func publishInto(ctx context.Context, l *lake.Lake, dest string, o publish.Options) (r publish.Report, err error) {
	defer func() { err = errors.Join(err, l.Close()) }()
	return publish.Run(ctx, l, dest, o)
}

// showPublished prints a row a table and says in a line what was moved.
func showPublished(c *cli.Context, r publish.Report) error {
	columns := texts("table")
	for _, name := range []string{"files", "rows", "bytes", "files_added", "bytes_moved", "files_removed"} {
		columns = append(columns, result.Column{Name: name, Kind: result.Int})
	}
	columns = append(columns, texts("read_from")...)
	var rows [][]any
	files, moved := int64(0), int64(0)
	for _, t := range r.Tables {
		rows = append(rows, []any{t.Table, t.Files, t.Rows, t.Bytes, t.Added, t.Copied, t.Gone, t.Pointer})
		files += t.Added
		moved += t.Copied
	}
	if err := printTable(c, columns, rows); err != nil {
		return err
	}
	if !r.New() {
		say(c, "nothing new: %s holds snapshot %d already", result.Harmless(r.URI), r.Snapshot)
		return nil
	}
	say(c, "%s now holds snapshot %d of the lake: %s new, %s copied", result.Harmless(r.URI), r.Snapshot, plural(int(files), "file", "files"), megabytes(moved))
	return nil
}

func megabytes(n int64) string { return fmt.Sprintf("%.1f MB", float64(n)/1e6) }
