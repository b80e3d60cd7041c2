// Package samples tells tests where the open sample logs lie, which are no part of the project: in the folder that
// DYNOLAKE_SAMPLES names. Only tests import it.
package samples

import (
	"os"
	"testing"
)

// Folder is where the samples lie. Without one the test is skipped in a plain run and fails in CI, which promises them.
func Folder(t testing.TB) string {
	t.Helper()
	dir := os.Getenv("DYNOLAKE_SAMPLES")
	if dir == "" {
		if os.Getenv("CI") != "" {
			t.Fatal("DYNOLAKE_SAMPLES is not set: it names the folder of the open sample logs")
		}
		t.Skip("DYNOLAKE_SAMPLES is not set: it names the folder of the open sample logs")
	}
	return dir
}
