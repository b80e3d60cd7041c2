package pipeline_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// book writes a workbook whose sheets are small logs of different content.
func (s shop) book(name string, sheets ...string) {
	s.t.Helper()
	f := excelize.NewFile()
	for n, sheet := range sheets {
		if _, err := f.NewSheet(sheet); err != nil {
			s.t.Fatal(err)
		}
		rows := [][]any{{"Time [s]", "RPM [1/min]", "Channel " + sheet + " [V]"}}
		for i := range 8 {
			rows = append(rows, []any{float64(i) / 10, 800 + (i*i*(n+3))%97, n * i})
		}
		for i, row := range rows {
			if err := f.SetSheetRow(sheet, fmt.Sprintf("A%d", i+1), &row); err != nil {
				s.t.Fatal(err)
			}
		}
	}
	var b bytes.Buffer
	if err := errors.Join(f.DeleteSheet("Sheet1"), f.Write(&b)); err != nil {
		s.t.Fatal(err)
	}
	s.write(name, b.String())
}

// read gives what was written.
func (s shop) read(name string) string {
	s.t.Helper()
	text, err := os.ReadFile(filepath.Join(s.logs, name))
	if err != nil {
		s.t.Fatal(err)
	}
	return string(text)
}

// zip writes an archive of texts.
func (s shop) zip(name string, texts ...string) {
	s.t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(texts); i += 2 {
		w, err := z.Create(texts[i])
		if err == nil {
			_, err = w.Write([]byte(texts[i+1]))
		}
		if err != nil {
			s.t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		s.t.Fatal(err)
	}
	s.write(name, b.String())
}

// small is the text of a small log.
func small(seed int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "Time [s],RPM [1/min],Channel %d [V]\n", seed)
	for i := range 8 {
		fmt.Fprintf(&b, "%.1f,%d,%d\n", float64(i)/10, 800+(i*i*(seed+3))%97, seed*i)
	}
	return b.String()
}

// A workbook that was ingested as a whole gives way to the run of those of its sheets that a run sheet names, in one step; named as
// a whole again, it comes back. Without a sheet it stays where it is.
func TestSheetsOfAWorkbookPart(t *testing.T) {
	s := newShop(t)
	s.book("b.xlsx", "One", "Two")
	s.log("c.csv", 5)
	s.want(s.ingest("b.xlsx"), "stored b.xlsx#One, b.xlsx#Two")
	s.want(s.sources(), "b.xlsx#One+b.xlsx#Two")

	s.write("runs.csv", "files,vehicle\nb.xlsx#One;c.csv,v\n")
	s.want(s.ingest("."), "retired b.xlsx", "stored b.xlsx#One, c.csv")
	s.want(s.sources(), "b.xlsx#One+c.csv")
	s.want(s.ingest("."), "unchanged b.xlsx#One, c.csv")

	s.write("elsewhere/same.xlsx", s.read("b.xlsx"))
	s.want(s.ingest("elsewhere/same.xlsx"), "unchanged same.xlsx")
	s.want(s.sources(), "b.xlsx#One+c.csv")

	s.write("runs.csv", "files,vehicle\nb.xlsx#one ;c.csv,v\n") // Another spelling of the same.
	s.ingest(".")
	s.want(s.sources(), "b.xlsx#One+c.csv")
	s.write("runs.csv", "files,vehicle\nb.xlsx#One;c.csv,v\n")
	s.ingest(".")

	s.write("runs.csv", "files,vehicle\nb.xlsx#One,v\nb.xlsx#Two;c.csv,v\n")
	s.want(s.ingest("."), "retired b.xlsx#One, c.csv", "stored b.xlsx#One", "stored b.xlsx#Two, c.csv")
	s.write("runs.csv", "files,vehicle\nb.xlsx,v\nc.csv,v\n")
	s.want(s.ingest("."), "retired b.xlsx#One", "retired b.xlsx#Two, c.csv", "stored b.xlsx#One, b.xlsx#Two", "stored c.csv")
	s.want(s.sources(), "b.xlsx#One+b.xlsx#Two", "c.csv")
}

// A member of an archive that was ingested with it leaves it for the run that a sheet names.
func TestMembersOfAnArchivePart(t *testing.T) {
	s := newShop(t)
	s.zip("a.zip", "x/one.csv", small(1), "two.csv", small(2))
	s.log("c.csv", 5)
	s.want(s.ingest("a.zip"), "stored a.zip/two.csv", "stored a.zip/x/one.csv")
	s.write("runs.csv", "files,vehicle\na.zip/x/one.csv;c.csv,v\n")
	s.want(s.ingest("."), "retired a.zip/x/one.csv", "stored a.zip/x/one.csv, c.csv", "unchanged a.zip/two.csv")
	s.want(s.sources(), "c.csv+one.csv", "two.csv")
}

// A sheet that names the whole archive makes its members one run, and a later one that names them apart parts them.
func TestAWholeArchiveParts(t *testing.T) {
	s := newShop(t)
	s.zip("a.zip", "one.csv", small(1), "two.csv", small(2))
	s.write("runs.csv", "files,vehicle\na.zip,v\n")
	s.want(s.ingest("."), "stored a.zip/one.csv, a.zip/two.csv")
	s.write("runs.csv", "files,vehicle\na.zip/one.csv,v\na.zip/two.csv,w\n")
	s.want(s.ingest("."), "retired a.zip/one.csv, a.zip/two.csv", "stored a.zip/one.csv", "stored a.zip/two.csv")
	s.want(s.sources(), "one.csv", "two.csv")
}

// However run sheets name a workbook, as a whole or by its sheets, and in whatever order it comes: no sheet of it is in two runs,
// and a second time changes nothing.
func TestEachSheetIsInOneRun(t *testing.T) {
	rows := []string{"b.xlsx#One,v", "b.xlsx#Two;c.csv,v", "b.xlsx,w", "b.xlsx;c.csv,w", "b.xlsx#One;b.xlsx#Two,v", "c.csv,v"}
	for seed := range uint64(8) {
		r := rand.New(rand.NewPCG(seed, 7))
		s := newShop(t)
		s.book("b.xlsx", "One", "Two", "Three")
		s.log("c.csv", 5)
		for range 4 {
			switch r.IntN(3) {
			case 0:
				s.ingest([]string{"b.xlsx", "c.csv"}[r.IntN(2)])
			default:
				s.write("runs.csv", "files,vehicle\n"+rows[r.IntN(len(rows))]+"\n")
				s.ingest(".")
			}
			seen := map[string]bool{}
			for _, run := range s.sources() {
				for _, name := range strings.Split(run, "+") {
					if seen[name] {
						t.Errorf("seed %d: %s is in two runs: %q", seed, name, s.sources())
					}
					seen[name] = true
				}
			}
		}
		s.ingest(".")
		for _, line := range s.ingest(".") {
			if !strings.HasPrefix(line, "unchanged ") {
				t.Errorf("seed %d: a second time: %s", seed, line)
			}
		}
	}
}
