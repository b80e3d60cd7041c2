package archive_test

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/archive"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
)

const log = "Time [s],RPM\n0,800\n1,801\n"

// entry is a file in a zip archive.
type entry struct{ name, text string }

func zipped(t testing.TB, method uint16, entries ...entry) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, e := range entries {
		to, err := w.CreateHeader(&zip.FileHeader{Name: e.name, Method: method})
		if err == nil {
			_, err = to.Write([]byte(e.text))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func gzipped(t testing.TB, data []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, err := w.Write(data)
	if err := errors.Join(err, w.Close()); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func zstded(t testing.TB, data []byte) []byte {
	t.Helper()
	w, err := zstd.NewWriter(nil)
	if err != nil {
		t.Fatal(err)
	}
	return w.EncodeAll(data, nil)
}

// unpacked reads everything that a source packs: name, then text or error.
func unpacked(name string, data []byte) (string, error) {
	files, found, err := read.Unpack(context.Background(), readtest.Bytes(name, data))
	if err != nil {
		return "", err
	}
	var all strings.Builder
	for _, f := range files {
		text, err := content(f)
		if err != nil {
			fmt.Fprintf(&all, "%s!%v;", f.Name, err)
		} else {
			fmt.Fprintf(&all, "%s=%s;", f.Name, text)
		}
	}
	for _, f := range found {
		fmt.Fprintf(&all, "%s %s;", f.Code, f.Text)
	}
	return all.String(), nil
}

func content(src schema.Source) (string, error) {
	f, err := src.Open()
	if err != nil {
		return "", err
	}
	text, err := io.ReadAll(f)
	return string(text), errors.Join(err, f.Close())
}

func TestUnpack(t *testing.T) {
	inner := zipped(t, zip.Deflate, entry{"b.csv", "b"}, entry{"c/d.csv", "d"})
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"gzip":          {gzipped(t, []byte(log)), "f=" + log + ";"},
		"zstd":          {zstded(t, []byte(log)), "f=" + log + ";"},
		"zip":           {inner, "f/b.csv=b;f/c/d.csv=d;"},
		"stored":        {zipped(t, zip.Store, entry{"b.csv", log}), "f/b.csv=" + log + ";"},
		"nested":        {zipped(t, zip.Store, entry{"a.zip", string(inner)}, entry{"e.csv.gz", string(gzipped(t, []byte("e")))}), "f/a.zip/b.csv=b;f/a.zip/c/d.csv=d;f/e.csv.gz=e;"},
		"gzip of zip":   {gzipped(t, inner), "f/b.csv=b;f/c/d.csv=d;"},
		"no archive":    {[]byte(log), "f=" + log + ";"},
		"two of a kind": {zipped(t, zip.Deflate, entry{"b.csv", "1"}, entry{"./b.csv", "2"}), `f/b.csv=1;f/b.csv~2=2;member_renamed two members are named "b.csv": the second is called "b.csv~2";`},
		"two streams":   {append(gzipped(t, []byte("a")), gzipped(t, []byte("b"))...), "f=ab;"},
		"harmless names": {zipped(t, zip.Deflate, entry{"../../etc/a", "1"}, entry{"/abs/b", "2"}, entry{`c:\win\c`, "3"}, entry{"..", "4"}, entry{"__MACOSX/x", "5"}, entry{".hidden/y", "6"}, entry{"folder/", ""}, entry{"a/../../g", "7"}),
			"f/etc/a=1;f/abs/b=2;f/win/c=3;f/g=7;"},
		"four deep":     {gzipped(t, gzipped(t, gzipped(t, gzipped(t, []byte("x"))))), "error f: archives lie within one another more than 3 deep"},
		"three deep":    {gzipped(t, gzipped(t, gzipped(t, []byte("x")))), "f=x;"},
		"nothing in it": {zipped(t, zip.Deflate), "error f: the archive holds no file"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := unpacked("f", c.data)
			if want, bad := strings.CutPrefix(c.want, "error "); bad {
				if err == nil || !strings.Contains(err.Error(), want) {
					t.Errorf("got %v, want %s", err, want)
				}
			} else if err != nil || got != c.want {
				t.Errorf("got %q, %v; want %q", got, err, c.want)
			}
		})
	}
}

// A member that cannot be unpacked says so, and its fellows are there.
func TestMembersThatCannotBeUnpacked(t *testing.T) {
	data := zipped(t, zip.Deflate, entry{"a.csv", strings.Repeat("a", 100)}, entry{"b.csv", "b"})
	encrypted, method, broken := bytes.Clone(data), bytes.Clone(data), bytes.Clone(data)
	at := bytes.Index(data, []byte("PK\x01\x02")) // The first entry of the directory.
	encrypted[at+8] |= 1
	method[at+10] = 12
	broken[at+16] ^= 0xff // Its checksum.
	for name, c := range map[string]struct {
		data []byte
		why  string
	}{"encrypted": {encrypted, "is encrypted"}, "unknown method": {method, "packed by method 12"}, "damaged": {broken, "checksum"}} {
		got, err := unpacked("f.zip", c.data)
		if err != nil || !strings.HasPrefix(got, "f.zip/a.csv!") || !strings.Contains(got, c.why) || !strings.HasSuffix(got, "f.zip/b.csv=b;") {
			t.Errorf("%s: %q, %v; want %s", name, got, err, c.why)
		}
	}
}

// zeros gives n of them.
type zeros struct{ n int64 }

func (z *zeros) Read(p []byte) (int, error) {
	if z.n == 0 {
		return 0, io.EOF
	}
	n := min(int64(len(p)), z.n)
	clear(p[:n])
	z.n -= n
	return int(n), nil
}

// What unpacks to hundreds of times its size is refused before it fills anything.
func TestBombs(t *testing.T) {
	var gz bytes.Buffer
	w := gzip.NewWriter(&gz)
	_, err := io.Copy(w, &zeros{n: 300 << 20})
	if err := errors.Join(err, w.Close()); err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{"gzip": gz.Bytes(), "gzip in zip": zipped(t, zip.Store, entry{"a.gz", gz.String()})} {
		files, _, err := read.Unpack(context.Background(), readtest.Bytes("bomb", data))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		f, err := files[0].Open()
		if err != nil {
			t.Fatal(err)
		}
		n, err := io.Copy(io.Discard, f)
		if err == nil || !strings.Contains(err.Error(), "made to fill a disk") || n > 100<<20 {
			t.Errorf("%s: %d bytes, %v", name, n, err)
		}
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	}
	var z bytes.Buffer
	zw := zip.NewWriter(&z)
	to, err := zw.Create("a.csv")
	if err == nil {
		_, err = io.Copy(to, &zeros{n: 300 << 20})
	}
	if err := errors.Join(err, zw.Close()); err != nil {
		t.Fatal(err)
	}
	if _, _, err := (archive.Zip{}).Members(context.Background(), readtest.Bytes("bomb", z.Bytes())); err == nil || !strings.Contains(err.Error(), "made to fill a disk") {
		t.Errorf("zip: %v", err)
	}
	many := make([]entry, 10_001)
	for i := range many {
		many[i].name = fmt.Sprint(i)
	}
	if _, _, err := (archive.Zip{}).Members(context.Background(), readtest.Bytes("bomb", zipped(t, zip.Store, many...))); err == nil || !strings.Contains(err.Error(), "expected at most 10000") {
		t.Errorf("many members: %v", err)
	}
}

// Cut anywhere, an archive is refused, or a member says so: nothing is read in part in silence.
func TestCutAtEveryByte(t *testing.T) {
	for name, data := range map[string][]byte{"zip": zipped(t, zip.Deflate, entry{"a.csv", log}, entry{"b.csv", log}), "gzip": gzipped(t, []byte(log)), "zstd": zstded(t, []byte(log))} {
		good, err := unpacked("f", data)
		if err != nil {
			t.Fatal(err)
		}
		for n := 4; n < len(data); n++ {
			got, err := unpacked("f", data[:n])
			if err == nil && !strings.Contains(got, "!") {
				t.Errorf("%s cut at %d: %q", name, n, got)
			}
			if err != nil && !strings.Contains(err.Error(), "f") {
				t.Errorf("%s cut at %d: %v does not name the source", name, n, err)
			}
			bad := bytes.Clone(data)
			bad[n] ^= 0x10
			if got, err := unpacked("f", bad); err == nil && got != good && !strings.Contains(got, "!") && name != "zip" {
				t.Errorf("%s byte %d changed: %q", name, n, got)
			}
		}
	}
}

// Sizes that cannot be are refused or passed over, and cost no memory.
func TestLengths(t *testing.T) {
	for _, data := range [][]byte{zipped(t, zip.Deflate, entry{"a.csv", log}, entry{"b.csv", log}), gzipped(t, []byte(log)), zstded(t, []byte(log))} {
		readtest.Lengths(data, func(bad []byte) {
			readtest.Bounded(t, bad, func() { _, _ = unpacked("f", bad) })
		})
	}
}

func FuzzUnpack(f *testing.F) {
	f.Add(zipped(f, zip.Deflate, entry{"a.csv", log}, entry{"b/c.zip", string(zipped(f, zip.Store, entry{"d", "e"}))}))
	f.Add(gzipped(f, []byte(log)))
	f.Add(zstded(f, []byte(log)))
	f.Fuzz(func(t *testing.T, data []byte) {
		files, _, err := read.Unpack(context.Background(), readtest.Bytes("f", data))
		if err != nil {
			if !strings.Contains(err.Error(), "f") {
				t.Error(err)
			}
			return
		}
		for _, file := range files {
			if rest, ok := strings.CutPrefix(file.Name, "f"); !ok || strings.Contains(rest, "/../") || strings.HasPrefix(rest, "//") || strings.ContainsAny(rest, "\\\x00") {
				t.Errorf("name %q", file.Name)
			}
			if r, err := file.Open(); err == nil {
				_, _ = io.Copy(io.Discard, io.LimitReader(r, 1<<20))
				_ = r.Close()
			}
		}
	})
}
