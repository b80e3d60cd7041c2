package publish

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestWhatIsRefused(t *testing.T) {
	l := stocked(t)
	dir := t.TempDir()
	ice := filepath.Join(dir, "ice")
	publishTo(t, l, ice, Iceberg)
	full := filepath.Join(dir, "full")
	if err := os.MkdirAll(full, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(full, "thesis.txt"), []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(dir, "link")
	if err := os.Symlink(l.Root(), link); err != nil {
		t.Fatal(err)
	}
	younger := newLake(t)
	commit(t, younger, invent(9, 4, "van-a"))
	other := stocked(t)
	for _, c := range []struct {
		name, dest, say string
		o               Options
		lake            string
	}{
		{"inside the lake", filepath.Join(l.Root(), "reports", "new"), "one in the other", options(Iceberg), ""},
		{"the lake itself", l.Root(), "one in the other", options(Iceberg), ""},
		{"around the lake", filepath.Dir(l.Root()), "one in the other", options(Parquet), ""},
		{"inside by a link", filepath.Join(link, "x"), "one in the other", options(Iceberg), ""},
		{"something else", full, "thesis.txt", options(Parquet), ""},
		{"a file", filepath.Join(full, "thesis.txt"), "found a file", options(Parquet), ""},
		{"the other form", ice, "--as iceberg", options(Parquet), ""},
		{"another address", ice, "give --location", Options{Form: Iceberg, Location: "s3://b/x", Env: noEnv, Now: options(Iceberg).Now}, ""},
		{"an older lake", ice, "older than the one that was published", options(Iceberg), younger.Root()},
		{"another lake", ice, "another lake", options(Iceberg), other.Root()},
		{"another scheme", "gopher://x/y", "want a folder or s3", options(Iceberg), ""},
		{"keys in the address", "s3://AKIA:verysecret@bucket/x", "keys do not belong", options(Iceberg), ""},
		{"no keys", "s3://bucket/x", "AWS_ACCESS_KEY_ID", options(Iceberg), ""},
	} {
		from := l
		if c.lake != "" {
			from = openLake(t, c.lake)
		}
		_, err := Run(t.Context(), from, c.dest, c.o)
		if err == nil || !strings.Contains(err.Error(), c.say) || strings.Contains(err.Error(), "verysecret") {
			t.Errorf("%s: %v, want %q", c.name, err, c.say)
		}
	}
	if names, err := os.ReadDir(full); err != nil || len(names) != 1 {
		t.Errorf("a refused place was written to: %v %v", names, err)
	}
	if names, err := os.ReadDir(filepath.Join(l.Root(), "reports")); err != nil || len(names) != 0 {
		t.Errorf("the lake was written to: %v %v", names, err)
	}
}

func TestADamagedFileOfTheLakeIsNotPublished(t *testing.T) {
	l := stocked(t)
	files, err := filepath.Glob(filepath.Join(l.Root(), "samples", "month=2025-05", "*.parquet"))
	if err != nil || len(files) != 1 {
		t.Fatalf("%v %v", files, err)
	}
	text, err := os.ReadFile(files[0])
	if err != nil {
		t.Fatal(err)
	}
	text[len(text)/2] ^= 1
	if err := os.Chmod(files[0], 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(files[0], text, 0o600); err != nil {
		t.Fatal(err)
	}
	dest := filepath.Join(t.TempDir(), "out")
	for _, form := range Forms() {
		if _, err := Run(t.Context(), l, filepath.Join(dest, string(form)), options(form)); err == nil || !strings.Contains(err.Error(), "dynolake verify") {
			t.Errorf("--as %s: %v", form, err)
		}
		if left, err := filepath.Glob(filepath.Join(dest, string(form), "samples", "*", "*", "*"+filepath.Base(files[0]))); err != nil || len(left) > 0 {
			t.Errorf("the damaged copy stays: %v %v", left, err)
		}
	}
}

func TestTwoPublishersAtOnce(t *testing.T) {
	l := stocked(t)
	dest := filepath.Join(t.TempDir(), "out")
	s := openStore(t, dest, noEnv)
	if err := s.(locker).Lock(); err != nil {
		t.Fatal(err)
	}
	if _, err := Run(t.Context(), l, dest, options(Iceberg)); err == nil || !strings.Contains(err.Error(), "another process publishes there") {
		t.Errorf("a second publisher: %v", err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	publishTo(t, l, dest, Iceberg)
}
