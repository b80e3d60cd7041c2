package lake

import (
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Whichever bit of whichever stored byte is turned over, verify finds it, names the file and says what it costs. DYNOLAKE_FLIPS says how many are tried.
func TestEveryFlippedBitIsFound(t *testing.T) {
	flips := 30
	if n, err := strconv.Atoi(os.Getenv("DYNOLAKE_FLIPS")); err == nil {
		flips = n
	}
	l, _, _, _ := damaged(t)
	var paths []string
	err := filepath.WalkDir(l.root, func(path string, d fs.DirEntry, err error) error {
		if err == nil && (strings.HasSuffix(path, ".parquet") || strings.HasSuffix(path, ".zst")) {
			paths = append(paths, path)
		}
		return err
	})
	if err != nil || len(paths) < 8 {
		t.Fatalf("%d files, %v", len(paths), err)
	}
	draw := rand.New(rand.NewPCG(7, 11))
	for n := range flips {
		path := paths[n%len(paths)]
		whole, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		turned := slices.Clone(whole)
		at, bit := draw.IntN(len(turned)), draw.IntN(8)
		turned[at] ^= 1 << bit
		overwrite(t, path, turned)
		problems, err := l.Verify(t.Context(), Checks{})
		if err != nil {
			t.Fatal(err)
		}
		name, err := filepath.Rel(l.root, path)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.ContainsFunc(problems, func(p Problem) bool { return p.Path == filepath.ToSlash(name) && !p.Note && p.Cost != "" }) {
			t.Errorf("bit %d of byte %d of %s: verify says %v", bit, at, name, problems)
		}
		overwrite(t, path, whole)
	}
	spotless(t, l)
	t.Logf("%d bits turned over in %d files, each found", flips, len(paths))
}
