package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"dynolake/pipeline"
	"dynolake/pipeline/lake"
	"dynolake/queries/engine"
	"dynolake/queries/result"

	"github.com/urfave/cli/v2"
)

func exportCommand() *cli.Command {
	return &cli.Command{
		Name:      "export",
		Usage:     "write one run to a file: the lake's columns, or with --raw what was logged",
		ArgsUsage: "RUN",
		Description: "Without --raw: t_s and every column that holds a value, in the stored units. With --raw the archived bytes are read again and every logged\n" +
			"channel comes with its own clock, name and unit, a row a value: source, channel_group, channel, unit, t_s (on the recorder's own\n" +
			"clock), value, and text for what is no number.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "as", Usage: "`" + strings.Join(exportForms(), "|") + "`", DefaultText: "what the ending of --out says, else csv"},
			&cli.StringFlag{Name: "out", Usage: "the `FILE` to write; - is stdout", DefaultText: "-", TakesFile: true},
			&cli.BoolFlag{Name: "raw", Usage: "what was logged, from the archived bytes, instead of the lake's columns"},
		},
		Action: export,
	}
}

func exportForms() []string { return []string{"csv", "parquet", "mf4"} }

// mf4 is the form that no other result has.
const mf4 result.Format = "mf4"

func export(c *cli.Context) error {
	if c.NArg() != 1 {
		return usagef("export wants one run id; `dynolake runs` lists them")
	}
	form, err := exportForm(c)
	if err != nil {
		return err
	}
	id, out := c.Args().First(), c.String("out")
	if c.Bool("raw") {
		return exportRaw(c, id, form, out)
	}
	return ask(c, []string{id}, func(ctx context.Context, s *engine.Session) error {
		rows, err := columnsOf(ctx, s, id)
		if err != nil {
			return err
		}
		if form != mf4 {
			return saved(c, out, func(w io.Writer) error { return result.Write(ctx, w, rows, form, result.Options{}) })
		}
		f, err := lakeMDF(ctx, s, id, rows)
		if err != nil {
			return err
		}
		return saved(c, out, func(w io.Writer) error { return writeMDF(w, f) })
	})
}

// exportForm is the form that --as or the file's ending asks for.
func exportForm(c *cli.Context) (result.Format, error) {
	as, out := strings.ToLower(c.String("as")), c.String("out")
	if as == "" {
		as = strings.TrimPrefix(strings.ToLower(filepath.Ext(out)), ".")
		if as != "parquet" && as != "mf4" {
			as = "csv"
		}
	}
	switch as {
	case "csv":
		return result.CSV, nil
	case "parquet":
		if toStdout(out) && onTerminal(c.App.Writer) {
			return "", usagef("export --as parquet wants --out FILE: a terminal cannot show it")
		}
		return result.Parquet, nil
	case "mf4":
		if toStdout(out) {
			return "", usagef("export --as mf4 wants --out FILE: it is not written in order")
		}
		return mf4, nil
	}
	return "", usagef("read --as %q: want one of %s%s", as, strings.Join(exportForms(), ", "), nearest(as, exportForms()))
}

func toStdout(out string) bool { return out == "" || out == "-" }

// columnsOf gives a run's samples: t_s and the columns that hold a value.
func columnsOf(ctx context.Context, s *engine.Session, id string) (*result.Rows, error) {
	none, err := s.Query(ctx, "SELECT * EXCLUDE (run_id, t_s) FROM samples LIMIT 0")
	if err != nil {
		return nil, err
	}
	names := none.Names()
	if err := none.Close(); err != nil {
		return nil, err
	}
	counts := []string{"count(*)"}
	for _, n := range names {
		counts = append(counts, "count("+quoted(n)+")")
	}
	where := " FROM samples WHERE run_id = " + literal(id)
	counted, err := s.Query(ctx, "SELECT "+strings.Join(counts, ", ")+where)
	if err != nil {
		return nil, err
	}
	all, err := counted.All()
	if err != nil {
		return nil, err
	}
	if len(all) != 1 || fmt.Sprint(all[0][0]) == "0" {
		return nil, fmt.Errorf("export run %q: the lake has no run of that id; `dynolake runs` lists them", id)
	}
	list := []string{"t_s"}
	for i, n := range names {
		if fmt.Sprint(all[0][i+1]) != "0" {
			list = append(list, quoted(n))
		}
	}
	return s.Query(ctx, "SELECT "+strings.Join(list, ", ")+where+" ORDER BY t_s")
}

func quoted(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }

// exportRaw writes what was logged. Sources that cannot be read are told, and make the exit code 3.
func exportRaw(c *cli.Context, id string, form result.Format, out string) error {
	return reading(c, func(l *lake.Lake) error {
		logs, left, err := pipeline.Raw(c.Context, l, id)
		if err != nil {
			return fmt.Errorf("export run %q: %w", id, err)
		}
		rows := result.New(rawColumns(), &rawRows{pipeline.NewValues(logs)})
		err = saved(c, out, func(w io.Writer) error {
			if form == mf4 {
				return writeMDF(w, rawMDF(logs))
			}
			return result.Write(c.Context, w, rows, form, result.Options{})
		})
		for _, f := range left {
			fmt.Fprintf(c.App.ErrWriter, "set aside: %s\n", result.Harmless(sourced(f.Source, f.Text)))
		}
		if err == nil && len(left) > 0 {
			return errSetAside
		}
		return err
	})
}

// reading opens the lake, runs do and closes it.
func reading(c *cli.Context, do func(*lake.Lake) error) (err error) {
	l, err := openLake(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	return do(l)
}

func rawColumns() []result.Column {
	columns := texts("source", "channel_group", "channel", "unit")
	for _, name := range []string{"t_s", "value"} {
		columns = append(columns, result.Column{Name: name, Kind: result.Float64})
	}
	return append(columns, texts("text")...)
}

// rawRows lists logged values as rows.
type rawRows struct{ values *pipeline.Values }

func (r *rawRows) Next(dst []any) error {
	v, err := r.values.Next()
	if err != nil {
		return err
	}
	dst[0], dst[1], dst[2], dst[3], dst[4] = v.Source, orNull(v.Group), v.Channel.Name, orNull(v.Channel.Unit), v.T
	dst[5], dst[6] = nil, orNull(v.Text)
	if v.Text == "" {
		dst[5] = v.Number
	}
	return nil
}

func (r *rawRows) Close() error { return nil }

// saved gives do stdout, or a file that takes its name when it is whole.
func saved(c *cli.Context, out string, do func(io.Writer) error) (err error) {
	if toStdout(out) {
		return do(c.App.Writer)
	}
	if err := place(c)(out, do); err != nil {
		return err
	}
	say(c, "wrote %s", out)
	return nil
}
