package night

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"dynolake/queries/tables"
)

// Passed is a limit that a vehicle and calibration went beyond. Numbers are in the stored unit of the quantity's column.
type Passed struct {
	Vehicle     string   `json:"vehicle"`
	Calibration string   `json:"calibration"`
	Quantity    string   `json:"quantity"`
	Upper       bool     `json:"upper"`
	Bound       float64  `json:"bound"`
	Worst       float64  `json:"worst"`
	PowerKW     *float64 `json:"power_kw"` // Where it was met; nil where that is not known.
}

// Verdict is one comparison whose outcome changed; Was is empty for a new one.
type Verdict struct {
	Vehicle, Base, Candidate, Quantity string
	Was, Is                            string
}

// keySign separates the parts of a key: no name holds it.
const keySign = "\x1f"

// row is a table's row by column.
type row map[string]string

// readTable gives the rows of a table; none where the lake has no such table.
func readTable(root, name string) (list []row, err error) {
	f, err := os.Open(filepath.Join(root, tables.Folder, name+".csv"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read table %s: %w", name, err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	r := csv.NewReader(f)
	head, err := r.Read()
	for err == nil {
		var record []string
		if record, err = r.Read(); err == nil {
			cells := row{}
			for i, c := range record {
				cells[head[i]] = c
			}
			list = append(list, cells)
		}
	}
	if !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("read table %s: %w", name, err)
	}
	return list, nil
}

// number reads a cell, NaN where it is empty.
func (r row) number(column string) float64 {
	if x, err := strconv.ParseFloat(r[column], 64); err == nil {
		return x
	}
	return math.NaN()
}

// verdicts gives the verdict of each comparison as a whole: gain, loss or no difference shown.
func verdicts(rows []row) map[string]string {
	out := map[string]string{}
	for _, r := range rows {
		if r["vehicle"] != "" && r["verdict_all"] != "" {
			out[strings.Join([]string{r["vehicle"], r["base"], r["candidate"], "torque"}, keySign)] = r["verdict_all"]
		}
	}
	return out
}

// Changed lists the comparisons whose outcome is another than before, in the order of their names.
func Changed(was, is map[string]string) []Verdict {
	var list []Verdict
	for key, now := range is {
		if was[key] == now {
			continue
		}
		p := strings.Split(key, keySign)
		list = append(list, Verdict{Vehicle: p[0], Base: p[1], Candidate: p[2], Quantity: p[3], Was: was[key], Is: now})
	}
	slices.SortFunc(list, func(a, b Verdict) int {
		return strings.Compare(a.Vehicle+keySign+a.Base+keySign+a.Candidate+a.Quantity, b.Vehicle+keySign+b.Base+keySign+b.Candidate+b.Quantity)
	})
	return list
}

// passed lists the limits that were gone beyond, of a table with a row a vehicle, calibration and limit.
func passed(rows []row) map[string]Passed {
	out := map[string]Passed{}
	for _, r := range rows {
		margin := r.number("margin")
		if math.IsNaN(margin) || margin >= 0 {
			continue
		}
		p := Passed{Vehicle: r["vehicle"], Calibration: r["calibration"], Quantity: r["quantity"], Upper: r["direction"] != "min",
			Bound: r.number("bound"), Worst: r.number("worst")}
		if kw := r.number("at_power_kw"); !math.IsNaN(kw) {
			p.PowerKW = &kw
		}
		out[strings.Join([]string{p.Vehicle, p.Calibration, p.Quantity, r["direction"]}, keySign)] = p
	}
	return out
}

// Beyond lists the limits that are passed now and were not before, in the order of their keys.
func Beyond(was, is map[string]Passed) []Passed {
	var names []string
	for key := range is {
		if _, before := was[key]; !before {
			names = append(names, key)
		}
	}
	slices.Sort(names)
	list := make([]Passed, len(names))
	for i, n := range names {
		list[i] = is[n]
	}
	return list
}

// String says which bound was passed and by how much, in the stored unit.
func (p Passed) String() string {
	sign := ">"
	if !p.Upper {
		sign = "<"
	}
	at := ""
	if p.PowerKW != nil {
		at = fmt.Sprintf(" at %.1f kW", *p.PowerKW)
	}
	return fmt.Sprintf("%s %.4g %s %.4g%s", p.Quantity, p.Worst, sign, p.Bound, at)
}
