package obd

import (
	_ "embed"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"

	"github.com/goccy/go-yaml"
)

//go:embed pids.yaml
var pidsYAML []byte

// Scale is a factor, written as a decimal or as a fraction such as 100/255.
type Scale struct{ Over, Under float64 }

// UnmarshalYAML reads either. In this form the parser need not write the node out first, which it did with all of the table for each scale: 90 MB.
func (s *Scale) UnmarshalYAML(read func(any) error) error {
	var value any
	if err := read(&value); err != nil {
		return err
	}
	over, under, fraction := strings.Cut(fmt.Sprint(value), "/")
	s.Under = 1
	var err error
	if s.Over, err = strconv.ParseFloat(over, 64); err == nil && fraction {
		s.Under, err = strconv.ParseFloat(under, 64)
	}
	return err
}

// Value is one figure of a parameter.
type Value struct {
	Name   string  `yaml:"name"`
	At     int     `yaml:"at"`  // First byte.
	Low    int     `yaml:"low"` // Lowest bit within it, for figures shorter than a byte.
	Bits   int     `yaml:"bits"`
	Signed bool    `yaml:"signed"`
	Scale  Scale   `yaml:"scale"`
	Offset float64 `yaml:"offset"`
	Unit   string  `yaml:"unit"`
	Ref    string  `yaml:"ref"`
	If     *int    `yaml:"if"` // The bit of the first byte that says it is there.
}

// Written is the unit with what the pressure is counted from: kPa abs.
func (v Value) Written() string { return strings.TrimSpace(v.Unit + " " + v.Ref) }

// Of is the value in its unit, NaN where the support byte denies it or the data end before it.
func (v Value) Of(data []byte) float64 {
	size := (v.Low + v.Bits + 7) / 8
	if v.At+size > len(data) || (v.If != nil && data[0]>>*v.If&1 == 0) {
		return math.NaN()
	}
	var raw uint64
	for _, b := range data[v.At : v.At+size] {
		raw = raw<<8 | uint64(b)
	}
	raw = raw >> v.Low & (1<<v.Bits - 1)
	x := float64(raw)
	if v.Signed && raw>>(v.Bits-1) == 1 {
		x -= math.Ldexp(1, v.Bits)
	}
	return x*v.Scale.Over/v.Scale.Under + v.Offset
}

// PID is a parameter.
type PID struct {
	Hex    string  `yaml:"pid"`
	Bytes  []int   `yaml:"bytes"`
	Choice string  `yaml:"choice"` // What was chosen where the published tables disagree.
	Values []Value `yaml:"values"`
	Number byte    `yaml:"-"`
}

var table = sync.OnceValue(func() map[byte]PID {
	var list []PID
	if err := yaml.UnmarshalWithOptions(pidsYAML, &list, yaml.Strict()); err != nil {
		panic(fmt.Sprintf("read the embedded OBD table: %v", err)) // A broken build, not a user's error.
	}
	m := map[byte]PID{}
	for _, p := range list {
		n, err := strconv.ParseUint(p.Hex, 16, 8)
		if err != nil {
			panic(fmt.Sprintf("read the embedded OBD table: PID %q", p.Hex))
		}
		p.Number = byte(n)
		m[p.Number] = p
	}
	for n := 0; n < 0x100; n += 0x20 { // Which of the next 32 are supported.
		m[byte(n)] = PID{Hex: fmt.Sprintf("%02X", n), Bytes: []int{4}, Number: byte(n)}
	}
	return m
})

// Lookup finds a parameter by its number.
func Lookup(pid byte) (PID, bool) {
	p, ok := table()[pid]
	return p, ok
}
