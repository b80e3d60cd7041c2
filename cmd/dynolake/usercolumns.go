package main

import (
	"errors"
	"io/fs"
	"os"
	"slices"
	"strings"

	"dynolake/pipeline/config"
	"dynolake/queries/engine"

	"github.com/urfave/cli/v2"
)

// userColumn is a column of the lake's columns.yaml with the views that have it.
type userColumn struct {
	engine.UserColumn
	views []string
}

// formula says what the column is reckoned from, and where.
func (u userColumn) formula() string {
	text := strings.Join(strings.Fields(u.Formula), " ")
	if slices.Contains(u.views, "curves") {
		return text + " (in curves of the means of a bin)"
	}
	return text
}

// userColumns reads the lake's columns.yaml and checks it; faulty entries are named on stderr. Without a lake there are none.
func userColumns(c *cli.Context) ([]userColumn, error) {
	if _, err := os.Stat(configDir(c)); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	conf, err := config.Load(configDir(c))
	if err != nil || len(conf.Columns)+len(conf.Problems) == 0 {
		return nil, err
	}
	s, err := engine.OpenTables(c.Context, nil, engine.Options{Columns: columns(conf)})
	if err != nil {
		return nil, err
	}
	leftOut(c, conf, s)
	var list []userColumn
	for _, u := range columns(conf) {
		own := userColumn{UserColumn: u}
		for _, view := range engine.ViewNames() {
			if slices.Contains(s.UserColumns(view), u) {
				own.views = append(own.views, view)
			}
		}
		if len(own.views) > 0 {
			list = append(list, own)
		}
	}
	return list, s.Close()
}

// withUserUnits adds the units of the user's columns to those that a query declares.
func withUserUnits(a engine.Asker, declared map[string]string) map[string]string {
	s, ok := a.(*engine.Session)
	if !ok {
		return declared // What is published has none.
	}
	units := map[string]string{}
	for _, view := range engine.ViewNames() {
		for _, u := range s.UserColumns(view) {
			if u.Unit != "" {
				units[u.Name] = u.Unit
			}
		}
	}
	for name, unit := range declared {
		units[name] = unit
	}
	return units
}
