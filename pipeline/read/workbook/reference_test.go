package workbook_test

import (
	"context"
	"encoding/csv"
	"io"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"dynolake/pipeline/read/readtest"
	"dynolake/pipeline/read/workbook"
	"dynolake/schema"
)

func file(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile("../../../testdata/reference/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// grid reads a sheet's text back into cells, by row and column from 1.
func grid(t testing.TB, s schema.Source) map[[2]int]string {
	t.Helper()
	f, err := s.Open()
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	cells := map[[2]int]string{}
	for i, line := range strings.Split(string(text), "\n") {
		for k, cell := range strings.Split(line, "\t") {
			if cell, ok := strings.CutPrefix(cell, `"`); ok {
				cells[[2]int{i + 1, k + 1}] = strings.ReplaceAll(strings.TrimSuffix(cell, `"`), `""`, `"`)
			} else if line != "" && cell != "" {
				cells[[2]int{i + 1, k + 1}] = cell
			}
		}
	}
	return cells
}

// Every cell is what openpyxl, an independent reader, finds in the same file: testdata/reference/workbook.py.
func TestCellsAreAnIndependentReaders(t *testing.T) {
	want, err := csv.NewReader(strings.NewReader(string(file(t, "workbook.csv")))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	sheets, _, err := workbook.Reader{Hidden: true}.Members(context.Background(), readtest.Bytes("book.xlsx", file(t, "workbook.xlsx")))
	if err != nil {
		t.Fatal(err)
	}
	have, n := map[string]map[[2]int]string{}, 0
	for _, s := range sheets {
		have[strings.TrimPrefix(s.Name, "book.xlsx#")] = grid(t, s)
		n += len(have[strings.TrimPrefix(s.Name, "book.xlsx#")])
	}
	for _, w := range want[1:] {
		row, _ := strconv.Atoi(w[2])
		column, _ := strconv.Atoi(w[3])
		if got := have[w[0]][[2]int{row, column}]; !same(got, w[4]) {
			t.Errorf("%s row %d column %d: %q, the other reader finds %q", w[0], row, column, got, w[4])
		}
	}
	if n != len(want)-1 || n < 60 {
		t.Errorf("%d cells, the other reader finds %d", n, len(want)-1)
	}
}

// same compares numbers and points in time by what they say, texts as they are.
func same(got, want string) bool {
	if got == want {
		return true
	}
	a, err1 := strconv.ParseFloat(got, 64)
	b, err2 := strconv.ParseFloat(want, 64)
	if err1 == nil && err2 == nil {
		return a == b
	}
	const form = "2006-01-02T15:04:05.999999999"
	x, err1 := time.Parse(form, got)
	y, err2 := time.Parse(form, want)
	return err1 == nil && err2 == nil && x.Equal(y)
}

func TestHiddenSheetsAreNamed(t *testing.T) {
	sheets, found, err := workbook.Reader{}.Members(context.Background(), readtest.Bytes("book.xlsx", file(t, "workbook.xlsx")))
	if err != nil {
		t.Fatal(err)
	}
	names := ""
	for _, s := range sheets {
		names += s.Name + " " + s.Via + ";"
	}
	if names != "book.xlsx#Pull workbook;book.xlsx#Plain numbers workbook;" {
		t.Errorf("sheets %s", names)
	}
	told := ""
	for _, f := range found {
		told += f.Code + " " + f.Text + ";"
	}
	if len(found) != 2 || !strings.Contains(told, `hidden_sheet sheet "Secret"`) || !strings.Contains(told, `"Deep"`) {
		t.Errorf("findings %s", told)
	}
}
