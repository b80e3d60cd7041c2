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
	Note bool   // The lake is sound all the same: what an interrupted save left, or a run that waits.
	Wait bool   // A run that is to be made again from the archive.
	Lost bool   // Path is a live file of a table that has to be made again from the archive.
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
	return fmt.Sprintf("costs the %s of %s: run dynolake verify --repair, which makes them again from the archive", f.Table, nameOwners(slices.Sorted(maps.Keys(f.Owners))))
}

// nameOwners names the first few.
func nameOwners(owners []string) string {
	names := make([]string, len(owners))
	for i, o := range owners {
		names[i] = nameOwner(o)
	}
	if len(names) > 3 {
		names = append(names[:3:3], fmt.Sprintf("%d more", len(names)-3))
	}
	return strings.Join(names, ", ")
}

func nameOwner(owner string) string {
	if sha256Form.MatchString(owner) {
		return "refused source " + owner[:12]
	}
	return "run " + owner
}
