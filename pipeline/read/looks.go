package read

import "bytes"

// magics are first bytes by which files that are no text are told.
var magics = []struct {
	at    int
	bytes string
	looks string
}{
	{0, "PK\x03\x04", "a zip archive or an office workbook (magic PK)"},
	{0, "PK\x05\x06", "an empty zip archive (magic PK)"},
	{0, "\x1f\x8b", "a gzip file (magic 1F 8B)"},
	{0, "BZh", "a bzip2 file (magic BZh)"},
	{0, "\xfd7zXZ\x00", "an xz file (magic FD 7zXZ)"},
	{0, "\x28\xb5\x2f\xfd", "a zstd file (magic 28 B5 2F FD)"},
	{0, "7z\xbc\xaf\x27\x1c", "a 7z archive (magic 7z)"},
	{0, "Rar!\x1a\x07", "a rar archive (magic Rar!)"},
	{257, "ustar", "a tar archive (magic ustar)"},
	{0, "%PDF-", "a PDF document (magic %PDF-)"},
	{0, "\x89PNG\r\n\x1a\n", "a PNG picture"},
	{0, "\xff\xd8\xff", "a JPEG picture"},
	{0, "GIF8", "a GIF picture"},
	{0, "PAR1", "a Parquet file (magic PAR1)"},
	{0, "ARROW1\x00\x00", "an Arrow file (magic ARROW1)"},
	{0, "MDF     ", "an MDF measurement file (magic MDF)"},
	{0, "UnFinMF ", "an unfinished MDF measurement file (magic UnFinMF)"},
	{0, "SQLite format 3\x00", "an SQLite database"},
	{0, "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old office document or workbook (magic D0 CF 11 E0)"},
	{0, "\x89HDF\r\n\x1a\n", "an HDF5 file"},
	{0, "MATLAB 5.0 MAT-file", "a level 5 MAT file"},
	{0, "{\\rtf", "an RTF document"},
	{0, "\x7fELF", "a program (magic ELF)"},
	{0, "MZ", "a program (magic MZ)"},
	{4, "ftyp", "a video (magic ftyp)"},
	{0, "RIFF", "a sound or video (magic RIFF)"},
}

// Looks names what the first bytes of a file look like, empty when they tell nothing: it may be text.
func Looks(head []byte) string {
	if len(head) == 0 {
		return "an empty file"
	}
	for _, m := range magics {
		if len(head) >= m.at && bytes.HasPrefix(head[m.at:], []byte(m.bytes)) && (m.bytes != "MZ" || bytes.IndexByte(head, 0) >= 0) {
			return m.looks
		}
	}
	text := bytes.TrimSpace(head)
	low := bytes.ToLower(text[:min(len(text), 256)])
	switch {
	case len(bytes.Trim(head, "\x00")) == 0:
		return "a file of NUL bytes alone, as a copy that never finished leaves it"
	case len(text) == 0:
		return "a file of blanks alone"
	case bytes.HasPrefix(low, []byte("<!doctype html")), bytes.HasPrefix(low, []byte("<html")):
		return "an HTML page"
	case bytes.HasPrefix(low, []byte("<?xml")):
		return "an XML document"
	case text[0] == '{' || bytes.HasPrefix(text, []byte("[{")):
		return "a JSON document"
	}
	return ""
}
