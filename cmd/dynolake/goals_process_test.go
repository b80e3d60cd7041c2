package main

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// spent is what a piece of work took, s.
type spent struct{ wall, cpu float64 }

func process(b *testing.B, name string, args ...string) spent {
	c, start := exec.CommandContext(b.Context(), name, args...), time.Now()
	if err := c.Run(); err != nil {
		b.Fatalf("%s %q: %v", name, args, err)
	}
	return spent{time.Since(start).Seconds(), max(1e-6, (c.ProcessState.UserTime() + c.ProcessState.SystemTime()).Seconds())}
}

// listing looks at every file of a lake.
func listing(b *testing.B, root string) spent {
	start := time.Now()
	err := filepath.WalkDir(root, func(_ string, d fs.DirEntry, err error) error {
		if err == nil {
			_, err = d.Info()
		}
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	s := time.Since(start).Seconds()
	return spent{s, s}
}

func emptyProgram(b *testing.B) string {
	dir := b.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "main.go"), []byte("package main\n\nfunc main() {}\n"), 0o644); err != nil {
		b.Fatal(err)
	}
	to := filepath.Join(dir, "empty")
	process(b, "go", "build", "-o", to, filepath.Join(dir, "main.go"))
	return to
}
