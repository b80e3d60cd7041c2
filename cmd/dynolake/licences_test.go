package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const licencesFile = "../../THIRD-PARTY.md"

// phrases tell a licence by its own words.
var phrases = []struct{ licence, words string }{
	{"AGPL", "GNU AFFERO GENERAL PUBLIC LICENSE"}, {"LGPL", "GNU LESSER GENERAL PUBLIC LICENSE"}, {"GPL", "GNU GENERAL PUBLIC LICENSE"}, {"MPL-2.0", "Mozilla Public License, version 2.0"},
	{"EPL", "Eclipse Public License"}, {"CC-BY-SA", "Attribution-ShareAlike"}, {"CC-BY-4.0", "Creative Commons Attribution 4.0 International Public License"}, {"FTL", "FreeType License"},
	{"Apache-2.0", "www.apache.org/licenses/"}, {"MIT", "Permission is hereby granted, free of charge"}, {"ISC", "Permission to use, copy, modify, and/or distribute"},
	{"Unlicense", "free and unencumbered software released into the public domain"}, {"OFL-1.1", "SIL OPEN FONT LICENSE Version 1.1"},
	{"BSD", "Redistribution and use in source and binary forms"}, {"public domain", "disclaims copyright to this source code"},
}

// permissive are the licences that ask for no more than to be named. FTL is chosen of the two that its module offers; OFL-1.1 and CC-BY-4.0 are a font's and an example's.
var permissive = []string{"Apache-2.0", "MIT", "ISC", "BSD", "FTL", "Unlicense", "OFL-1.1", "CC-BY-4.0", "public domain"}

// tolerated are modules of tests alone under a licence that asks for more, each with the reason why it is there. What the
// program is made of is under permissive ones without exception.
var tolerated = map[string]string{
	"github.com/hashicorp/golang-lru/v2": "MPL-2.0 binds changes of its own files alone; it is in no program, and comes with apache/iceberg-go, which tests read published tables with",
}

// absent are modules that the program must not hold: one for its licence, the other for what it costs at every start.
var absent = []string{"github.com/hashicorp/golang-lru/v2", "github.com/apache/iceberg-go"}

type module struct {
	path, version, dir string
	program            bool // Linked into the program, not used by tests alone.
}

func modules(t *testing.T) []module {
	t.Helper()
	byPath := map[string]module{}
	for _, args := range [][]string{{"-deps", "-test", "../../..."}, {"-deps", "."}} {
		c := exec.Command("go", append([]string{"list", "-f", "{{with .Module}}{{.Path}}\t{{.Version}}\t{{.Dir}}{{end}}"}, args...)...)
		var fault bytes.Buffer
		c.Stderr = &fault
		out, err := c.Output()
		if err != nil {
			t.Fatalf("go list: %v: %s", err, fault.String())
		}
		for line := range strings.Lines(string(out)) {
			f := strings.Split(strings.TrimSpace(line), "\t")
			if len(f) == 3 {
				byPath[f[0]] = module{f[0], f[1], f[2], args[0] == "-deps" && len(args) == 2}
			}
		}
	}
	list := make([]module, 0, len(byPath))
	for _, m := range byPath {
		list = append(list, m)
	}
	slices.SortFunc(list, func(a, b module) int { return strings.Compare(a.path, b.path) })
	return list
}

// licences reads what a module's own files say that it is under.
func licences(t *testing.T, m module) []string {
	t.Helper()
	entries, err := os.ReadDir(m.dir)
	if err != nil {
		t.Fatal(err)
	}
	var found []string
	for _, e := range entries {
		name := strings.ToUpper(e.Name())
		if strings.Contains(name, "3RD-PARTY") {
			continue // It tells of modules that are listed by themselves.
		}
		if e.IsDir() || !strings.HasPrefix(name, "LICEN") && !strings.HasPrefix(name, "COPYING") && !strings.HasPrefix(name, "UNLICENSE") {
			continue
		}
		data, err := os.ReadFile(filepath.Join(m.dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		text := strings.ToUpper(strings.Join(strings.Fields(string(data)), " "))
		for _, p := range phrases {
			if strings.Contains(text, strings.ToUpper(p.words)) && !slices.Contains(found, p.licence) {
				found = append(found, p.licence)
			}
		}
	}
	if slices.Contains(found, "MPL-2.0") || slices.Contains(found, "FTL") { // Both name the GPL: as what may be mixed with, and as the other choice.
		found = slices.DeleteFunc(found, func(l string) bool { return strings.HasSuffix(l, "GPL") })
	}
	return found
}

// Every module that the program or its tests stand on is under a permissive licence, and the list of them is current.
// UPDATE_LICENCES=1 writes it anew.
func TestLicences(t *testing.T) {
	var b strings.Builder
	b.WriteString("# What dynolake stands on\n\nMade from the modules' own files by `UPDATE_LICENCES=1 go test ./cmd/dynolake -run Licences`; the same test holds that it is current and that every licence is permissive.\n\n" +
		"| module | version | licence | in |\n| --- | --- | --- | --- |\n")
	for _, m := range modules(t) {
		if m.version == "" {
			continue // Our own.
		}
		found := licences(t, m)
		free := slices.ContainsFunc(found, func(l string) bool { return slices.Contains(permissive, l) })
		bound := slices.ContainsFunc(found, func(l string) bool { return !slices.Contains(permissive, l) })
		if m.program && slices.Contains(absent, m.path) {
			t.Errorf("%s is in the program again: go list -deps ./cmd/dynolake, and go mod why -m %[1]s", m.path)
		}
		if why := tolerated[m.path]; (!free || bound) && (why == "" || m.program) {
			t.Errorf("%s %s is under %q: want one of %q", m.path, m.version, found, permissive)
		}
		in := "tests"
		if m.program {
			in = "program"
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", m.path, m.version, strings.Join(found, ", "), in)
	}
	b.WriteString("\nBeyond the permissive ones:\n")
	for path, why := range tolerated {
		fmt.Fprintf(&b, "\n* %s: %s.\n", path, why)
	}
	if os.Getenv("UPDATE_LICENCES") != "" {
		if err := os.WriteFile(licencesFile, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	have, err := os.ReadFile(licencesFile)
	if err != nil || string(have) != b.String() {
		t.Errorf("%s is not current (%v): UPDATE_LICENCES=1 go test ./cmd/dynolake -run Licences writes it anew", licencesFile, err)
	}
}
