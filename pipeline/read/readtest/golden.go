package readtest

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dynolake/pipeline/read"
	"dynolake/schema"
)

// Golden reads dir/CASE/input.* for every case and compares the dump, or the error, with dir/CASE/expected.txt. With
// GOLDEN_UPDATE set it writes that file instead: look at the difference before keeping it.
func Golden(t *testing.T, r schema.Reader, dir string) {
	t.Helper()
	inputs, err := filepath.Glob(filepath.Join(dir, "*", "input.*"))
	if err != nil || len(inputs) == 0 {
		t.Fatalf("no cases in %s: %v", dir, err)
	}
	for _, input := range inputs {
		folder := filepath.Dir(input)
		t.Run(filepath.Base(folder), func(t *testing.T) {
			data, err := os.ReadFile(input)
			if err != nil {
				t.Fatal(err)
			}
			var got string
			logs, err := read.Collect(context.Background(), r, Bytes(filepath.Base(input), data))
			if err != nil {
				got = "error " + err.Error() + "\n"
			} else {
				got = Dump(logs)
			}
			path := filepath.Join(folder, "expected.txt")
			if os.Getenv("GOLDEN_UPDATE") != "" {
				if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), got); diff != "" {
				t.Errorf("read differs (-want +got):\n%s", diff)
			}
		})
	}
}
