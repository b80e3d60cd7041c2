package main

import (
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(sweeper{m}, map[string]func(){
		"dynolake": main,
	})
}

// The scripts drive the real binary; each is a small story with its files inside.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{Dir: "testdata/script", RequireUniqueNames: true, Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits}})
}

// exits runs a program that must end with an exit code: exits CODE PROGRAM ARG…
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE PROGRAM ARG…")
	}
	code := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Fatalf("%s: %v", args[1], err)
		}
		code = exit.ExitCode()
	}
	if want, err := strconv.Atoi(args[0]); err != nil || code != want {
		ts.Fatalf("exit %d, want %s", code, args[0])
	}
}

// sweeper removes the demo's lake after the tests.
type sweeper struct{ m *testing.M }

func (s sweeper) Run() int {
	code := s.m.Run()
	if sharedDemo.folder != "" {
		_ = os.RemoveAll(filepath.Dir(sharedDemo.folder))
	}
	return code
}

// demoLake is the demo's lake, made once for all tests that only read it.
type demoLake struct {
	once   sync.Once
	folder string
	code   int
}

var sharedDemo demoLake

func demoLakeFolder(t *testing.T) string {
	t.Helper()
	sharedDemo.once.Do(func() {
		dir, err := os.MkdirTemp("", "dynolake-demo")
		if err != nil {
			t.Fatal(err)
		}
		sharedDemo.folder = filepath.Join(dir, "lake")
		sharedDemo.code = run(context.Background(), []string{"dynolake", "demo", "--lake", sharedDemo.folder, "--quiet"}, io.Discard, io.Discard)
	})
	if sharedDemo.code != 0 {
		t.Fatalf("dynolake demo: exit %d", sharedDemo.code)
	}
	return sharedDemo.folder
}
