package j1939

import (
	_ "embed"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"

	"github.com/goccy/go-yaml"
)

//go:embed spns.yaml
var spnsYAML []byte

// Scale is a factor, written as a decimal or as a fraction such as 1/256.
type Scale float64

// UnmarshalYAML reads either. In this form the parser need not write the node out first, which it did with all of the table for each scale.
func (s *Scale) UnmarshalYAML(read func(any) error) error {
	var value any
	if err := read(&value); err != nil {
		return err
	}
	over, under, fraction := strings.Cut(fmt.Sprint(value), "/")
	x, err := strconv.ParseFloat(over, 64)
	if err == nil && fraction {
		var d float64
		d, err = strconv.ParseFloat(under, 64)
		x /= d
	}
	*s = Scale(x)
	return err
}

// Signal is one parameter within a message. Byte and Bit count from 1; Byte is 0 where its place is not known.
type Signal struct {
	SPN    int     `yaml:"spn"`
	Name   string  `yaml:"name"`
	Byte   int     `yaml:"byte"`
	Bit    int     `yaml:"bit"`
	Bits   int     `yaml:"bits"`
	Scale  Scale   `yaml:"scale"`
	Offset float64 `yaml:"offset"`
	Unit   string  `yaml:"unit"`
	Ref    string  `yaml:"ref"` // What the standard counts a pressure from: abs, gauge or nothing.
	Source string  `yaml:"source"`
}

// Written is the unit with what the pressure is counted from: kPa gauge.
func (s Signal) Written() string { return strings.TrimSpace(s.Unit + " " + s.Ref) }

// First is the signal's first bit, counted from 0 at the lowest bit of the first byte.
func (s Signal) First() int { return (s.Byte-1)*8 + max(s.Bit, 1) - 1 }

// Raw takes the signal's bits out of a message. It is false where the message ends before them.
func (s Signal) Raw(data []byte) (uint64, bool) { return bits(data, s.First(), s.Bits) }

// Of gives the value that a raw number means, NaN where it means "not available" or an error.
func (s Signal) Of(raw uint64) float64 {
	if !Available(raw, s.Bits) {
		return math.NaN()
	}
	return float64(raw)*float64(s.Scale) + s.Offset
}

// Value is the signal's value in its unit, NaN where it is missing.
func (s Signal) Value(data []byte) float64 {
	raw, ok := s.Raw(data)
	if !ok {
		return math.NaN()
	}
	return s.Of(raw)
}

func bits(data []byte, first, n int) (uint64, bool) {
	if first < 0 || n < 1 || n > 32 || first+n > 8*len(data) {
		return 0, false
	}
	var raw uint64
	for i := (first + n - 1) / 8; i >= first/8; i-- {
		raw = raw<<8 | uint64(data[i])
	}
	return raw >> (first % 8) & (1<<n - 1), true
}

// Message is a parameter group with its known parameters.
type Message struct {
	PGN     uint32
	Name    string
	Signals []Signal
}

type tables struct {
	messages map[uint32]Message
	signals  map[int]Signal
}

var load = sync.OnceValue(func() tables {
	var list []struct {
		PGN     string   `yaml:"pgn"`
		Name    string   `yaml:"name"`
		Signals []Signal `yaml:"signals"`
	}
	if err := yaml.UnmarshalWithOptions(spnsYAML, &list, yaml.Strict()); err != nil {
		panic(fmt.Sprintf("read the embedded J1939 table: %v", err)) // A broken build, not a user's error.
	}
	t := tables{messages: map[uint32]Message{}, signals: map[int]Signal{}}
	for _, m := range list {
		for _, s := range m.Signals {
			t.signals[s.SPN] = s
		}
		if m.PGN == "" {
			continue
		}
		pgn, err := strconv.ParseUint(m.PGN, 16, 18)
		if err != nil {
			panic(fmt.Sprintf("read the embedded J1939 table: PGN %q", m.PGN))
		}
		t.messages[uint32(pgn)] = Message{PGN: uint32(pgn), Name: m.Name, Signals: m.Signals}
	}
	return t
})

// Lookup finds a message by its PGN.
func Lookup(pgn uint32) (Message, bool) {
	m, ok := load().messages[pgn]
	return m, ok
}

// Parameter finds a parameter by its SPN; its place may be unknown.
func Parameter(spn int) (Signal, bool) {
	s, ok := load().signals[spn]
	return s, ok
}
