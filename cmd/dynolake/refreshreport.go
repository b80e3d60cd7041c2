package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"dynolake/cmd/dynolake/night"
	"dynolake/pipeline/config"
	"dynolake/queries/report"

	"github.com/urfave/cli/v2"
)

// renewReport writes the report where what it shows may be another: tables, news, limits, vehicles.
func renewReport(c *cli.Context, work *night.Work, conf config.Config, n night.News) error {
	work.Now.Config = shown(c, conf)
	path := filepath.Join(lakePath(c), "reports", "report.html")
	_, err := os.Stat(path)
	if err == nil && n.None() && !work.Written.Changed && work.Now.Config == work.Was.Config {
		return nil
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	news, err := reported(c, work, n)
	if err == nil {
		err = keepNews(c, news)
	}
	if err != nil {
		return err
	}
	if path, err = writeReport(c, "", news, work.Now.Tables); err != nil {
		return err
	}
	say(c, "the report is %s", path)
	return nil
}

// shown stands for what the report shows of the configuration.
func shown(c *cli.Context, conf config.Config) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%#v\n%#v\n%#v\n%s", vehicles(conf), columns(conf), fmt.Sprint(conf.Limits), option(c, "units")))
	return hex.EncodeToString(sum[:8])
}

// reported gives the news as the report takes them.
func reported(c *cli.Context, work *night.Work, n night.News) (*report.News, error) {
	out := &report.News{Since: work.Was.At}
	for _, v := range n.Verdicts {
		out.Verdicts = append(out.Verdicts, report.Verdict{Vehicle: v.Vehicle, Base: v.Base, Candidate: v.Candidate, Quantity: v.Quantity, Was: v.Was, Is: v.Is})
	}
	for _, p := range n.Passed {
		passed := report.Passed{Vehicle: p.Vehicle, Calibration: p.Calibration, Quantity: p.Quantity, Bound: p.Bound, Worst: p.Worst, Upper: p.Upper}
		if p.PowerKW != nil {
			passed.PowerKW = *p.PowerKW
		}
		out.Passed = append(out.Passed, passed)
	}
	for _, o := range n.SetAside {
		out.SetAside = append(out.SetAside, report.Aside{Source: o.Source, Reason: o.Reason})
	}
	if len(n.Runs) == 0 {
		return out, nil
	}
	s, err := work.Open(c.Context, nil, 1)
	if err != nil {
		return nil, err
	}
	err = eachRun(c.Context, s, n.Runs, func(r []any) {
		text := func(i int) string { t, _ := r[i].(string); return t }
		at, _ := r[5].(time.Time)
		out.Runs = append(out.Runs, report.Run{ID: text(0), Vehicle: text(1), Calibration: text(2), Test: text(3), Platform: text(4), StartedAt: at})
	})
	return out, errors.Join(err, s.Close())
}
