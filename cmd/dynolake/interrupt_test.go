package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// stopping cancels a context when something is written that holds a text.
type stopping struct {
	bytes.Buffer
	at   string
	stop context.CancelFunc
}

func (s *stopping) Write(p []byte) (int, error) {
	if strings.Contains(string(p), s.at) {
		s.stop()
	}
	return s.Buffer.Write(p)
}

// An interrupt ends a command with exit 1 and one word, and leaves a sound lake in which the same command goes on.
func TestInterrupt(t *testing.T) {
	lake := filepath.Join(t.TempDir(), "lake")
	ctx, cancel := context.WithCancel(t.Context())
	stderr := &stopping{at: "inventing logs", stop: cancel}
	if code := run(ctx, []string{"dynolake", "demo", "--lake", lake}, io.Discard, stderr); code != exitFailed || !strings.HasSuffix(stderr.String(), "dynolake: interrupted\n") {
		t.Errorf("exit %d: %s", code, stderr.String())
	}
	if code := run(t.Context(), []string{"dynolake", "verify", "--lake", lake}, io.Discard, io.Discard); code != 0 {
		t.Errorf("verify: exit %d", code)
	}
	logs := t.TempDir()
	if err := os.WriteFile(filepath.Join(logs, "log.csv"), []byte("Time [s],RPM\n0,800\n1,801\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if code := run(t.Context(), []string{"dynolake", "ingest", logs, "--lake", lake}, io.Discard, io.Discard); code != 0 {
		t.Errorf("ingest: exit %d", code)
	}
}

// A second ingest of the demo's logs finds every run as it is.
func TestDemoTwice(t *testing.T) {
	lake := demoLakeFolder(t)
	var out, told bytes.Buffer
	if code := run(t.Context(), []string{"dynolake", "ingest", "--lake", lake, filepath.Join(lake, "demo", "logs")}, &out, &told); code != 0 {
		t.Fatalf("exit %d: %s", code, told.String())
	}
	if n := strings.Count(out.String(), "\nunchanged,"); n != strings.Count(out.String(), "\n")-1 || n < 60 {
		t.Errorf("%s", out.String())
	}
}
