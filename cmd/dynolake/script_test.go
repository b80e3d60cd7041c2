package main

import (
	"context"
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"dynolake": func() { os.Exit(run(context.Background(), os.Args, os.Stdout, os.Stderr)) },
	})
}

// The scripts drive the real binary; each is a small story with its files inside.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{Dir: "testdata/script", RequireUniqueNames: true})
}
