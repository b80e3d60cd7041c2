"""Makes workbook.xlsx, by hand from its XML, and workbook.csv, what openpyxl (Debian package python3-openpyxl), an independent
reader, finds in it. Usage: python3 workbook.py, in this folder."""
import csv
import datetime
import decimal
import zipfile

import openpyxl

HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
REL = 'http://schemas.openxmlformats.org/officeDocument/2006/relationships'
SHARED = ['Clock', 'Engine &amp; <b/>speed', 'Boost', '  800.00', 'A note, with a "quote"', 'rpm', 'mbar']


def sheet(rows, extra=''):
    return HEAD + f'<worksheet {MAIN}><sheetData>{rows}</sheetData>{extra}</worksheet>'


def pull():
    rows = '<row r="1"><c r="B1" t="inlineStr"><is><r><t>Invented </t></r><r><t>pull</t></r><rPh sb="0" eb="1"><t>no</t></rPh></is></c></row>'
    rows += '<row r="4"><c r="B4" t="s"><v>0</v></c><c r="C4" t="s"><v>1</v></c><c r="D4" t="s"><v>2</v></c><c r="F4" t="inlineStr"><is><t>Line&#10;break</t></is></c>'
    rows += '<c r="G4" t="str"><f>"Da"&amp;"y"</f><v>Day</v></c><c r="H4" t="inlineStr"><is><t>Pedal</t></is></c><c r="I4" t="inlineStr"><is><t>On</t></is></c><c r="J4" t="inlineStr"><is><t>Took</t></is></c></row>'
    rows += '<row r="5"><c r="C5" t="s"><v>5</v></c><c r="D5" t="s"><v>6</v></c></row>'
    for i in range(6):
        r = 6 + i
        at = 45000.25 + i * 0.1 / 86400
        speed = '<c r="C%d" t="s"><v>3</v></c>' % r if i == 2 else f'<c r="C{r}"><v>{800 + i * 1.1!r}</v></c>'
        boost = f'<c r="D{r}" s="4"><f>C{r}*2</f><v>{1 / (i + 3)!r}</v></c>' if i != 4 else f'<c r="D{r}" t="e"><v>#DIV/0!</v></c>'
        rows += f'<row r="{r}"><c r="B{r}" s="1"><v>{at!r}</v></c>{speed}{boost}<c r="E{r}" s="1"/><c r="F{r}" t="s"><v>4</v></c>'
        rows += f'<c r="G{r}" s="2"><v>{45000 + i}</v></c><c r="H{r}" s="3"><v>{0.55 + i * 0.07!r}</v></c><c r="I{r}" t="b"><v>{i % 2}</v></c><c r="J{r}" s="5"><v>{(60 + i * 0.5) / 86400!r}</v></c></row>'
    rows += ''.join(f'<row r="{r}" s="1"><c r="B{r}" s="1"/><c r="C{r}" s="2"/></row>' for r in range(12, 40))
    return sheet(rows, '<mergeCells count="1"><mergeCell ref="B1:H1"/></mergeCells>')


def main():
    names = [('Pull', ''), ('Plain numbers', ''), ('Secret', ' state="hidden"'), ('Deep', ' state="veryHidden"'), ('Empty', '')]
    plain = ''.join(f'<row><c><v>{x}</v></c><c><v>{y}</v></c></row>' for x, y in [('1E-3', '-0.0'), ('16.899999999999999', '123456789012345'), ('2.2250738585072014E-308', '0.1')])
    sheets = [pull(), sheet(plain), sheet('<row r="2"><c r="A2"><v>1</v></c></row>'), sheet('<row r="1"><c r="A1"><v>2</v></c></row>'), sheet('<row r="3"><c r="A3" s="2"/></row>')]
    parts = {
        '[Content_Types].xml': HEAD + '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/>'
        '<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>'
        '<Override PartName="/xl/styles.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/>'
        '<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/>'
        + ''.join(f'<Override PartName="/xl/worksheets/sheet{i}.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>' for i in range(1, 6)) + '</Types>',
        '_rels/.rels': HEAD + f'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r1" Type="{REL}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        'xl/workbook.xml': HEAD + f'<workbook {MAIN} xmlns:r="{REL}"><sheets>' + ''.join(f'<sheet name="{n}" sheetId="{i}"{state} r:id="s{i}"/>' for i, (n, state) in enumerate(names, 1)) + '</sheets></workbook>',
        'xl/_rels/workbook.xml.rels': HEAD + '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">' + ''.join(f'<Relationship Id="s{i}" Type="{REL}/worksheet" Target="worksheets/sheet{i}.xml"/>' for i in range(1, 6))
        + f'<Relationship Id="t" Type="{REL}/styles" Target="styles.xml"/><Relationship Id="u" Type="{REL}/sharedStrings" Target="sharedStrings.xml"/></Relationships>',
        'xl/styles.xml': HEAD + f'<styleSheet {MAIN}><numFmts count="3"><numFmt numFmtId="164" formatCode="yyyy\\-mm\\-dd hh:mm:ss.000"/><numFmt numFmtId="165" formatCode="0.00&quot; days&quot;"/><numFmt numFmtId="166" formatCode="[h]:mm:ss.0"/></numFmts>'
        '<fonts count="1"><font/></fonts><fills count="1"><fill><patternFill patternType="none"/></fill></fills><borders count="1"><border/></borders><cellStyleXfs count="1"><xf numFmtId="0"/></cellStyleXfs>'
        '<cellXfs count="6"><xf numFmtId="0"/><xf numFmtId="164"/><xf numFmtId="14"/><xf numFmtId="9"/><xf numFmtId="165"/><xf numFmtId="166"/></cellXfs></styleSheet>',
        'xl/sharedStrings.xml': HEAD + f'<sst {MAIN}>' + ''.join(f'<si><t xml:space="preserve">{s.replace("<b/>", "")}</t></si>' for s in SHARED) + '</sst>',
    }
    parts |= {f'xl/worksheets/sheet{i}.xml': s for i, s in enumerate(sheets, 1)}
    with zipfile.ZipFile('workbook.xlsx', 'w', zipfile.ZIP_DEFLATED) as z:
        for name, text in parts.items():
            z.writestr(zipfile.ZipInfo(name, (2024, 1, 1, 0, 0, 0)), text, zipfile.ZIP_DEFLATED)
    with open('workbook.csv', 'w', newline='') as f:
        out = csv.writer(f, lineterminator='\n')
        out.writerow(['sheet', 'hidden', 'row', 'column', 'value'])
        for s in openpyxl.load_workbook('workbook.xlsx', data_only=True):
            for row in s.iter_rows():
                for c in row:
                    if c.value is not None:
                        out.writerow([s.title, int(s.sheet_state != 'visible'), c.row, c.column, shown(c)])


def shown(c):
    v = c.value
    if isinstance(v, bool):
        return int(v)
    if isinstance(v, datetime.datetime):
        return v.isoformat() if c.number_format != 'mm-dd-yy' else v.date().isoformat()
    if isinstance(v, datetime.time):
        return f'{v.hour}:{v.minute:02}:{v.second:02}.{v.microsecond:06}'
    if isinstance(v, datetime.timedelta):
        s = v.total_seconds()
        return f'{int(s // 3600)}:{int(s // 60 % 60):02}:{s % 60:09.6f}'
    if isinstance(v, (int, float)):
        return repr(float(decimal.Decimal(repr(v)) * 100)) if c.number_format == '0%' else repr(v)
    return ' '.join(v.split())


main()
