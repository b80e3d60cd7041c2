package demo

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"
)

// bookParts are what a workbook (ECMA-376, SpreadsheetML) must have beside its sheets: a log and, hidden, what was noted of it.
var bookParts = [...][2]string{
	{"[Content_Types].xml", `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/><Override PartName="/xl/worksheets/sheet2.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>`},
	{"_rels/.rels", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
	{"xl/workbook.xml", `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="Rollers" sheetId="1" r:id="rId1"/><sheet name="Notes" sheetId="2" state="hidden" r:id="rId2"/></sheets></workbook>`},
	{"xl/_rels/workbook.xml.rels", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet2.xml"/></Relationships>`},
}

// page is a sheet that is being written.
type page struct {
	b   strings.Builder
	row int
}

func (p *page) cells(cells ...string) {
	p.row++
	fmt.Fprintf(&p.b, `<row r="%d">`, p.row)
	for i, c := range cells {
		if c != "" {
			p.cell(i, c)
		}
	}
	p.b.WriteString("</row>")
}

// cell writes a number as one and a text in its place.
func (p *page) cell(column int, text string) {
	at := string(rune('A'+column)) + strconv.Itoa(p.row)
	if _, err := strconv.ParseFloat(text, 64); err == nil {
		fmt.Fprintf(&p.b, `<c r="%s"><v>%s</v></c>`, at, text)
		return
	}
	fmt.Fprintf(&p.b, `<c r="%s" t="inlineStr"><is><t>`, at)
	_ = xml.EscapeText(&p.b, []byte(text)) // A strings.Builder does not fail.
	p.b.WriteString("</t></is></c>")
}

// sheet closes the page; across is how many cells the title is merged over, 0 for none.
func (p *page) sheet(across int) string {
	merged := ""
	if across > 1 {
		merged = fmt.Sprintf(`<mergeCells count="1"><mergeCell ref="A1:%c1"/></mergeCells>`, 'A'+across-1)
	}
	return `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>` + p.b.String() + `</sheetData>` + merged + `</worksheet>`
}

// workbook writes a log as a dyno's software exports it: a title over all columns, what was tested, names, units, rows; notes
// in a hidden sheet.
func (r recorder) workbook(name string, sensors []*sensor, t *trace) ([]byte, error) {
	var log, notes page
	names, units := []string{r.timeName}, []string{"s"}
	for _, s := range sensors {
		names, units = append(names, s.name), append(units, s.unit)
	}
	log.cells(label)
	log.cells("Test", name)
	log.cells()
	log.cells(names...)
	log.cells(units...)
	kept := r.tables(sensors, t)[0]
	cells := make([]string, len(names))
	for i, at := range kept.t {
		cells[0] = strconv.FormatFloat(at, 'f', 3, 64)
		for k, s := range sensors {
			cells[k+1] = r.number(kept.values[k][i], s.decimals)
		}
		log.cells(cells...)
	}
	notes.cells("Notes of the invented cell")
	notes.cells("Restraints checked, extraction on, nobody near the rollers")
	return zipped(append(bookParts[:], [2]string{"xl/worksheets/sheet1.xml", log.sheet(len(names))}, [2]string{"xl/worksheets/sheet2.xml", notes.sheet(0)})...)
}

// zipped packs texts under their names, without times, so that the same ones give the same bytes.
func zipped(parts ...[2]string) ([]byte, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, p := range parts {
		w, err := z.CreateHeader(&zip.FileHeader{Name: p[0], Method: zip.Deflate})
		if err != nil {
			return nil, err
		}
		if _, err := w.Write([]byte(p[1])); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
