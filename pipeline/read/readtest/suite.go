package readtest

import (
	"bytes"
	"context"
	"errors"
	"io"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/unicode"

	"dynolake/pipeline/read"
	"dynolake/schema"
)

// Suite holds a reader to what every reader promises, on one small good file of its form. Text is tried in other encodings
// and with the damage that texts have; bytes that are no text with the damage alone.
func Suite(t *testing.T, r schema.Reader, sample []byte) {
	t.Helper()
	ctx := context.Background()
	good, err := read.Collect(ctx, r, Bytes("log.csv", sample))
	if err != nil {
		t.Fatalf("the sample itself cannot be read: %v", err)
	}
	if fit := r.Probe(sample[:min(len(sample), 64<<10)]); fit.Score <= 0 {
		t.Errorf("probe does not know its own sample: %s", fit.Why)
	}
	t.Run("empty", func(t *testing.T) { refused(t, r, nil) })
	t.Run("blank", func(t *testing.T) { refused(t, r, []byte(" \r\n\n ")) })
	t.Run("cut at every byte", func(t *testing.T) {
		for n := range sample {
			Sound(t, r, sample[:n])
		}
	})
	t.Run("a byte changed", func(t *testing.T) {
		for n := range sample {
			for _, c := range []byte{0, '"', ',', '\n', '9', 0xff} {
				bad := bytes.Clone(sample)
				bad[n] = c
				Sound(t, r, bad)
			}
		}
	})
	t.Run("a length changed", func(t *testing.T) { Lengths(sample, func(bad []byte) { Sound(t, r, bad) }) })
	t.Run("cancelled", func(t *testing.T) {
		gone, cancel := context.WithCancel(ctx)
		cancel()
		if _, err := read.Collect(gone, r, Bytes("log.csv", sample)); !errors.Is(err, context.Canceled) {
			t.Errorf("got %v, want context.Canceled", err)
		}
	})
	t.Run("a source that fails", func(t *testing.T) { failing(t, r, sample) })
	if utf8.Valid(sample) && bytes.IndexByte(sample, 0) < 0 {
		texts(t, r, sample, good)
	}
}

// refused checks for an error that names the source.
func refused(t *testing.T, r schema.Reader, data []byte) {
	t.Helper()
	if _, err := read.Collect(context.Background(), r, Bytes("log.csv", data)); err == nil || !strings.Contains(err.Error(), "log.csv") {
		t.Errorf("got %v, want an error that names the source", err)
	}
	if fit := r.Probe(data); fit.Score != 0 || fit.Why == "" {
		t.Errorf("probe gives %d, %q", fit.Score, fit.Why)
	}
}

var errBroken = errors.New("the disk is gone")

// failing checks that an error of the source comes through, from opening and from half way.
func failing(t *testing.T, r schema.Reader, sample []byte) {
	t.Helper()
	for _, open := range []func() (io.ReadCloser, error){
		func() (io.ReadCloser, error) { return nil, errBroken },
		func() (io.ReadCloser, error) {
			return io.NopCloser(io.MultiReader(bytes.NewReader(sample[:len(sample)/2]), broken{})), nil
		},
	} {
		if _, err := read.Collect(context.Background(), r, schema.Source{Name: "log.csv", Size: -1, Open: open}); !errors.Is(err, errBroken) {
			t.Errorf("got %v, want the source's own error", err)
		}
	}
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errBroken }

// texts tries the encodings and the damage of texts.
func texts(t *testing.T, r schema.Reader, sample []byte, good []schema.Log) {
	lf := strings.ReplaceAll(string(sample), "\r\n", "\n")
	lines := strings.SplitAfter(lf, "\n")
	utf16 := func(e unicode.Endianness, bom unicode.BOMPolicy) []byte { return encoded(t, unicode.UTF16(e, bom), lf) }
	for name, data := range map[string][]byte{
		"LF": []byte(lf), "CRLF": []byte(strings.ReplaceAll(lf, "\n", "\r\n")), "CR": []byte(strings.ReplaceAll(lf, "\n", "\r")),
		"no last line ending": []byte(strings.TrimRight(lf, "\n")), "BOM": []byte("\xef\xbb\xbf" + lf), "blank lines": []byte("\n\n" + lf + "\n\n"),
		"UTF-16 LE": utf16(unicode.LittleEndian, unicode.UseBOM), "UTF-16 BE": utf16(unicode.BigEndian, unicode.UseBOM),
		"UTF-16 LE without a mark": utf16(unicode.LittleEndian, unicode.IgnoreBOM), "UTF-16 BE without a mark": utf16(unicode.BigEndian, unicode.IgnoreBOM),
	} {
		t.Run(name, func(t *testing.T) {
			got, err := read.Collect(context.Background(), r, Bytes("log.csv", data))
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(good, got, cmpopts.EquateNaNs(), cmpopts.IgnoreFields(schema.Log{}, "Findings")); diff != "" {
				t.Errorf("another reading than the plain sample's (-want +got):\n%s", diff)
			}
		})
	}
	last := lines[max(0, len(lines)-2)]
	for name, data := range map[string]string{
		"ragged rows":     lf + cutCell(last) + last + strings.TrimRight(last, "\n") + ",;\t|7\n" + last,
		"twice":           lf + lf,
		"numbers as NaN":  regexp.MustCompile(`\d+\.\d+`).ReplaceAllString(lf, "NaN"),
		"decimal comma":   regexp.MustCompile(`(\d)\.(\d)`).ReplaceAllString(lf, "$1,$2"),
		"going back":      lf + strings.Join(lines[len(lines)/2:], ""),
		"upside down":     upsideDown(lines),
		"one name":        regexp.MustCompile(`[A-Za-z]+`).ReplaceAllString(lf, "x"),
		"a huge line":     lf + strings.Repeat("1234567890,", 200_000) + "\n" + last,
		"a huge cell":     lf + `"` + strings.Repeat("x", 3<<20),
		"quotes":          strings.ReplaceAll(lf, "\n", "\"\n"),
		"all quotes":      strings.Repeat(`"`, 1000) + lf,
		"many delimiters": lf + strings.Repeat(",;\t|", 100_000) + "\n" + last,
	} {
		t.Run(name, func(t *testing.T) { Sound(t, r, []byte(data)) })
	}
	header := 0
	for header < len(lines) && !regexp.MustCompile(`^["(\d]*\d`).MatchString(lines[header]) {
		header++
	}
	t.Run("header only", func(t *testing.T) {
		if _, err := read.Collect(context.Background(), r, Bytes("log.csv", []byte(strings.Join(lines[:header], "")))); err == nil {
			t.Error("a header without rows was read as a log")
		}
	})
	t.Run("memory", func(t *testing.T) { bounded(t, r, lf, lines[header:]) })
}

func encoded(t *testing.T, e encoding.Encoding, s string) []byte {
	b, err := e.NewEncoder().Bytes([]byte(s))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func cutCell(line string) string {
	if i := strings.LastIndexAny(strings.TrimRight(line, "\n"), ",;\t|"); i > 0 {
		return line[:i] + "\n"
	}
	return line
}

func upsideDown(lines []string) string {
	var b strings.Builder
	b.WriteString(lines[0])
	for i := len(lines) - 1; i > 0; i-- {
		b.WriteString(lines[i])
	}
	return b.String()
}

// bounded reads 64 MiB made of the sample's rows over and over: what is held must not grow with it.
func bounded(t *testing.T, r schema.Reader, head string, rows []string) {
	const size, most = 64 << 20, 24 << 20
	block := []byte(strings.Repeat(strings.Join(rows, ""), 1+(1<<20)/max(1, len(strings.Join(rows, "")))))
	var before, now runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	highest, batches := uint64(0), 0
	w := &watch{peak: func() {
		if batches++; batches%64 == 0 {
			runtime.GC()
			runtime.ReadMemStats(&now)
			highest = max(highest, now.HeapAlloc)
		}
	}}
	src := schema.Source{Name: "log.csv", Size: -1, Open: func() (io.ReadCloser, error) {
		return io.NopCloser(io.MultiReader(strings.NewReader(head), &repeat{block: block, left: size})), nil
	}}
	if err := r.Read(context.Background(), src, w); err != nil {
		t.Fatal(err)
	}
	if w.broken != nil {
		t.Error(w.broken)
	}
	if highest > before.HeapAlloc+most {
		t.Errorf("%d MiB held while reading %d MiB", (highest-before.HeapAlloc)>>20, size>>20)
	}
}

// repeat gives a block over and over until size bytes are out.
type repeat struct {
	block []byte
	at    int
	left  int
}

func (r *repeat) Read(p []byte) (int, error) {
	if r.left <= 0 {
		return 0, io.EOF
	}
	n := copy(p, r.block[r.at:])
	r.at = (r.at + n) % len(r.block)
	r.left -= n
	return n, nil
}
