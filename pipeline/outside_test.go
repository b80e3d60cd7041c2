package pipeline_test

import (
	"path/filepath"
	"strings"
	"testing"
)

// A run sheet within an archive, which may be a stranger's, names members of the archive alone: a file of this machine that it
// names by its path is not taken in.
func TestASheetInAnArchiveNamesNothingOutside(t *testing.T) {
	s := newShop(t)
	s.write("mine.csv", small(7))
	outside := filepath.Join(s.logs, "mine.csv")
	s.zip("given.zip", "runs.csv", "files,vehicle\n"+outside+",v\n../mine.csv,v\nin.csv,v\n", "in.csv", small(1))
	for _, line := range s.ingest("given.zip") {
		if strings.HasPrefix(line, "stored") && strings.Contains(line, "mine.csv") {
			t.Errorf("a file outside was taken in: %s", line)
		}
	}
	s.want(s.sources(), "in.csv")
}
