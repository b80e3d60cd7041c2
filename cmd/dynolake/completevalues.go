package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"dynolake/pipeline/config"
	"dynolake/pipeline/lake"
	"dynolake/pipeline/sheet"
	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/schema"
)

// valuesOf are the values that an option may take.
func (o *offers) valuesOf(name string) []string {
	switch name {
	case "format":
		return []string{"table", "csv", "json", "parquet", "markdown"}
	case "units":
		return []string{"metric", "us"}
	case "test":
		return sheet.Tests()
	case "duty":
		return []string{"light", "heavy"}
	case "as":
		if len(o.path) > 1 && o.path[1] == "publish" {
			return []string{"iceberg", "parquet"}
		}
		return []string{"csv", "parquet", "mf4"}
	case "vehicle", "platform", "calibration":
		return o.distinct(name)
	case "param":
		return o.parameters()
	}
	return nil
}

// parameters are name= for each parameter of the query, and name=value where its values are known.
func (o *offers) parameters() []string {
	set := o.packs()
	if set == nil || len(o.rest) == 0 {
		return nil
	}
	p, err := set.Pack(o.rest[0])
	if err != nil {
		return nil
	}
	var list []string
	for _, d := range p.Params {
		values := []string{""}
		switch choices, ok := strings.CutPrefix(d.Type, "one of "); {
		case ok:
			values = strings.Split(choices, "|")
		case d.Type == "boolean":
			values = []string{"true", "false"}
		case slices.Contains([]string{"vehicle", "platform", "calibration", "base", "candidate", "standard"}, d.Name):
			if d.Name == "base" || d.Name == "candidate" {
				values = o.distinct("calibration")
			} else {
				values = o.distinct(d.Name)
			}
		}
		if len(values) == 0 {
			values = []string{""}
		}
		list = append(list, prefixed(d.Name+"=", values)...)
	}
	return list
}

// lakeFolder is the lake that the command line names so far.
func (o *offers) lakeFolder() string {
	if p := o.values["lake"]; p != "" {
		return p
	}
	if p := os.Getenv("DYNOLAKE"); p != "" {
		return p
	}
	return "lake"
}

func (o *offers) packs() *packs.Set {
	set, err := packs.Load(filepath.Join(o.lakeFolder(), "config", "packs"))
	if err != nil {
		return nil
	}
	return set
}

func (o *offers) queries() []string {
	var list []string
	if set := o.packs(); set != nil {
		for _, p := range set.All() {
			list = append(list, p.Name)
		}
	}
	slices.Sort(list)
	return list
}

func (o *offers) folders() []string {
	var list []string
	for _, q := range o.queries() {
		folder, _, _ := strings.Cut(q, "/")
		list = append(list, folder)
	}
	return slices.Compact(list)
}

// distinct lists the values of a column of runs, and the vehicles and platforms of vehicles.yaml.
func (o *offers) distinct(column string) []string {
	var list []string
	if conf, err := config.Load(filepath.Join(o.lakeFolder(), "config")); err == nil {
		for _, v := range conf.Vehicles {
			switch column {
			case "vehicle":
				list = append(list, v.ID)
			case "platform":
				list = append(list, v.Platform)
			}
		}
	}
	list = append(list, o.stored(column)...)
	slices.Sort(list)
	return slices.Compact(list)
}

func (o *offers) stored(column string) []string {
	l, err := lake.Open(o.ctx, o.lakeFolder())
	if err != nil {
		return nil
	}
	defer func() { _ = l.Close() }() // It was only read.
	snap, err := l.Snapshot(o.ctx)
	if err != nil {
		return nil
	}
	s, err := engine.Open(o.ctx, snap, engine.Options{})
	if err != nil {
		return nil
	}
	defer func() { _ = s.Close() }()
	rows, err := s.Query(o.ctx, fmt.Sprintf(`SELECT DISTINCT "%s" FROM runs WHERE "%s" <> '' ORDER BY 1`, column, column))
	if err != nil {
		return nil
	}
	all, err := rows.All()
	if err != nil {
		return nil
	}
	list := make([]string, len(all))
	for i, r := range all {
		list[i] = fmt.Sprint(r[0])
	}
	return list
}

func columnNames() []string {
	var list []string
	for _, c := range schema.Columns() {
		list = append(list, c.Name)
	}
	return list
}
