package lake

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Problem is something that Verify found.
type Problem struct {
	Path string // Relative to the lake; empty when it is about no file.
	What string // What is wrong.
	Cost string // What it costs and what to do.
	Note bool   // It costs nothing: what an interrupted save left.
}

// String gives the problem as one line.
func (p Problem) String() string {
	parts := []string{p.What}
	if p.Path != "" {
		parts = []string{p.Path, p.What}
	}
	if p.Cost != "" {
		parts = append(parts, p.Cost)
	}
	return strings.Join(parts, ": ")
}

// Faults counts the problems that are no notes.
func Faults(list []Problem) int {
	n := 0
	for _, p := range list {
		if !p.Note {
			n++
		}
	}
	return n
}

// cost says what the loss of a table's file means.
func cost(f fileFact) string {
	names := slices.Sorted(maps.Keys(f.Owners))
	for i, n := range names {
		names[i] = nameOwner(n)
	}
	if len(names) > 3 {
		names = append(names[:3:3], fmt.Sprintf("%d more", len(names)-3))
	}
	return fmt.Sprintf("costs the %s of %s: run dynolake verify --rebuild, then ingest their logs again (the archive has the bytes)", f.Table, strings.Join(names, ", "))
}

func nameOwner(owner string) string {
	if sha256Form.MatchString(owner) {
		return "refused source " + owner[:12]
	}
	return "run " + owner
}
