package workbook_test

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"dynolake/pipeline/read/readtest"
	"dynolake/pipeline/read/workbook"
)

// readAll lists the sheets of anything and reads them, and returns a broken promise: an error that does not name the source.
func readAll(data []byte) (string, error) {
	ctx := context.Background()
	sheets, _, err := workbook.Reader{Hidden: true}.Members(ctx, readtest.Bytes("log.csv", data))
	if err != nil {
		return "", named(err)
	}
	var all strings.Builder
	for _, s := range sheets {
		f, err := s.Open()
		if err != nil {
			return "", named(err)
		}
		text, err := io.ReadAll(f)
		if err != nil {
			return "", named(err)
		}
		if err := f.Close(); err != nil {
			return "", err
		}
		fmt.Fprintf(&all, "%s\n%s", s.Name, text)
	}
	return all.String(), nil
}

var errRefused = errors.New("refused")

func named(err error) error {
	if !strings.Contains(err.Error(), "log.csv") {
		return fmt.Errorf("an error does not name the source: %w", err)
	}
	return fmt.Errorf("%w: %w", errRefused, err)
}

// Cut anywhere it is refused; with one byte changed it is refused, or what is read is as it was.
func TestDamage(t *testing.T) {
	data := file(t, "workbook.xlsx")
	good, err := readAll(data)
	if err != nil {
		t.Fatal(err)
	}
	for n := range data {
		if _, err := readAll(data[:n]); !errors.Is(err, errRefused) {
			t.Fatalf("cut at %d: %v", n, err)
		}
		if n%3 != 0 {
			continue // Each byte would take a minute.
		}
		bad := bytes.Clone(data)
		bad[n] ^= 0x55
		if got, err := readAll(bad); err != nil && !errors.Is(err, errRefused) {
			t.Fatalf("byte %d changed: %v", n, err)
		} else if err == nil && got != good && n < len(data)-2000 {
			t.Errorf("byte %d changed: other cells are read, and no error", n)
		}
	}
}

// Sizes that cannot be are refused or passed over, and cost no memory.
func TestLengths(t *testing.T) {
	data := file(t, "workbook.xlsx")
	directory := data[len(data)-400:] // The rest is packed bytes and the same sizes once more.
	readtest.Lengths(directory, func(bad []byte) {
		whole := append(bytes.Clone(data[:len(data)-400]), bad...)
		readtest.Bounded(t, whole, func() {
			if _, err := readAll(whole); err != nil && !errors.Is(err, errRefused) {
				t.Error(err)
			}
		})
	})
}

// packed makes a workbook of the reference one with another first sheet.
func packed(t testing.TB, sheet string) []byte {
	t.Helper()
	data := file(t, "workbook.xlsx")
	in, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range in.File {
		to, err := w.Create(f.Name)
		if err != nil {
			t.Fatal(err)
		}
		if f.Name == "xl/worksheets/sheet1.xml" {
			_, err = to.Write([]byte(sheet))
		} else {
			var from io.ReadCloser
			if from, err = f.Open(); err == nil {
				_, err = io.Copy(to, from)
			}
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestBombsAreRefused(t *testing.T) {
	row := `<row><c><v>1</v></c></row>`
	_, err := readAll(packed(t, "<worksheet><sheetData>"+strings.Repeat(row, 100<<20/len(row))+"</sheetData></worksheet>"))
	if !errors.Is(err, errRefused) || !strings.Contains(err.Error(), "expected at most") {
		t.Errorf("got %v", err)
	}
}

func TestOddSheets(t *testing.T) {
	for name, c := range map[string]struct{ sheet, want string }{
		"rows that fall back": {`<worksheet><sheetData><row r="5"><c r="A5"><v>1</v></c></row><row r="2"><c r="A2"><v>2</v></c></row></sheetData></worksheet>`, "\n\n\n\n1\n2\n"},
		"a far row":           {`<worksheet><sheetData><row r="1048577"><c r="A1"><v>1</v></c></row></sheetData></worksheet>`, "error row 1048577"},
		"a far column":        {`<worksheet><sheetData><row><c r="ZZZZ1"><v>1</v></c></row></sheetData></worksheet>`, "1\n"},
		"no end":              {`<worksheet><sheetData><row><c r="A1"><v>1</v></c></row>`, "error unexpected EOF"},
		"a text that is not":  {`<worksheet><sheetData><row><c t="s"><v>99</v></c></row></sheetData></worksheet>`, `error a cell names shared text "99" of 7`},
		"never calculated":    {`<worksheet><sheetData><row><c><v>1</v></c><c><f>A1*2</f></c></row></sheetData></worksheet>`, "1\t=A1*2\n"},
		"escaped":             {`<worksheet><sheetData><row><c t="inlineStr"><is><t>a_x000D_b&#9;c</t></is></c><c><v>1</v></c></row></sheetData></worksheet>`, "a b c\t1\n"},
		"prefixed":            {`<x:worksheet xmlns:x="u"><x:sheetData><x:row r="1"><x:c r="B1"><x:v>1</x:v></x:c></x:row></x:sheetData></x:worksheet>`, "\t1\n"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := readAll(packed(t, c.sheet))
			if want, bad := strings.CutPrefix(c.want, "error "); bad {
				if !errors.Is(err, errRefused) || !strings.Contains(err.Error(), want) {
					t.Errorf("got %v, want %q", err, want)
				}
			} else if err != nil || !strings.HasPrefix(got, "log.csv#Pull\n"+c.want+"log.csv#Plain") {
				t.Errorf("got %.200q, %v; want %q", got, err, c.want)
			}
		})
	}
}

// What another program writes is read back, number for number.
func TestWhatAnotherWriterWrites(t *testing.T) {
	for _, from1904 := range []bool{false, true} {
		f := excelize.NewFile()
		if err := f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &from1904}); err != nil {
			t.Fatal(err)
		}
		var want strings.Builder
		want.WriteString("log.csv#Sheet1\nTime\tSpeed [rpm]\n")
		stamp, err := f.NewStyle(&excelize.Style{CustomNumFmt: ptr("dd.mm.yyyy hh:mm:ss.000")})
		if err != nil {
			t.Fatal(err)
		}
		err = errors.Join(f.SetCellValue("Sheet1", "A1", "Time"), f.SetCellValue("Sheet1", "B1", "Speed\n[rpm]"))
		for i := range 300 {
			day := 45000 + float64(i)*0.05/86400
			if from1904 {
				day -= 1462
			}
			a, b := fmt.Sprint("A", i+2), fmt.Sprint("B", i+2)
			err = errors.Join(err, f.SetCellValue("Sheet1", a, day), f.SetCellStyle("Sheet1", a, a, stamp), f.SetCellValue("Sheet1", b, 800.125+float64(i)/4))
			fmt.Fprintf(&want, "2023-03-15T00:00:%02d.%02d0000\t%s\n", i/20, i%20*5, fmt.Sprint(800.125+float64(i)/4))
		}
		var out bytes.Buffer
		if err := errors.Join(err, f.Write(&out)); err != nil {
			t.Fatal(err)
		}
		got, err := readAll(out.Bytes())
		if err != nil || got != want.String() {
			t.Errorf("from 1904 %v: %v\n%.300s\nwant\n%.300s", from1904, err, got, want.String())
		}
	}
}

func ptr(s string) *string { return &s }

func TestProbe(t *testing.T) {
	if fit := (workbook.Reader{}).Probe(file(t, "workbook.xlsx")); fit.Score < 95 {
		t.Errorf("a workbook: %+v", fit)
	}
	var plain bytes.Buffer
	w := zip.NewWriter(&plain)
	to, err := w.CreateHeader(&zip.FileHeader{Name: "book.xlsx", Method: zip.Store})
	if err == nil {
		_, err = to.Write(file(t, "workbook.xlsx"))
	}
	if err := errors.Join(err, w.Close()); err != nil {
		t.Fatal(err)
	}
	if fit := (workbook.Reader{}).Probe(plain.Bytes()); fit.Score != 0 || fit.Why == "" {
		t.Errorf("a zip archive with a workbook in it: %+v", fit)
	}
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, _, err := (workbook.Reader{}).Members(ctx, readtest.Bytes("log.csv", file(t, "workbook.xlsx"))); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

func FuzzMembers(f *testing.F) {
	f.Add(file(f, "workbook.xlsx"))
	f.Add(packed(f, `<worksheet><sheetData><row r="3"><c r="B3" t="inlineStr"><is><t>x</t></is></c></row></sheetData></worksheet>`))
	f.Fuzz(func(t *testing.T, data []byte) {
		if _, err := readAll(data); err != nil && !errors.Is(err, errRefused) {
			t.Error(err)
		}
	})
}
