package archive_test

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode/utf16"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/readtest"
)

// rows is the text of a log, of which no line resembles another too much.
func rows(n int) string {
	r := rand.New(rand.NewPCG(1952, 8878)) // The numbers of the two forms' RFCs.
	var b strings.Builder
	b.WriteString("Time [s],RPM,Boost [kPa]\n")
	for i := range n {
		fmt.Fprintf(&b, "%.2f,%d,%.3f\n", float64(i)/50, 800+r.IntN(3000), 200*r.Float64())
	}
	return b.String()
}

// mended unpacks what can be had of a cut file; ok is false where nothing can.
func mended(t testing.TB, data []byte) (text, found string, ok bool) {
	t.Helper()
	files, _, err := read.Unpack(context.Background(), readtest.Bytes("f", data))
	if err != nil || len(files) != 1 || files[0].Mend == nil {
		return "", fmt.Sprint(len(files), err), false
	}
	src, list, err := files[0].Mend(context.Background())
	if err != nil {
		return "", err.Error(), false
	}
	text, err = content(src)
	if err != nil || len(list) != 1 || list[0].Code != "archive_cut" || int64(len(text)) != src.Size || list[0].Value != float64(len(text)) {
		t.Errorf("mended: %v, findings %v", err, list)
	}
	return text, list[0].Text, true
}

// Of a file that breaks off, whole lines are had and nothing else, wherever the cut is; near the file's end most of it.
func TestMendCut(t *testing.T) {
	text := rows(3000)
	for name, data := range map[string][]byte{"gzip": gzipped(t, []byte(text)), "zstd": zstded(t, []byte(text)), "zstd of blocks": zstded(t, []byte(rows(20000)))} {
		whole := text
		if name == "zstd of blocks" {
			whole = rows(20000)
		}
		had := 0
		for n := 5; n < len(data); n += 1 + n/50 {
			got, found, ok := mended(t, data[:n])
			if !ok {
				continue
			}
			had++
			if !strings.HasPrefix(whole, got) || !strings.HasSuffix(got, "\n") || !strings.Contains(found, fmt.Sprintf("f breaks off at its byte %d:", n)) {
				t.Fatalf("%s cut at %d: %d bytes, %q", name, n, len(got), found)
			}
		}
		last, _, _ := mended(t, data[:len(data)-9])
		if had < 10 && name != "zstd" || len(last) < len(whole)/2 && name == "gzip" {
			t.Errorf("%s: %d cuts mended, the last gives %d of %d bytes", name, had, len(last), len(whole))
		}
		if _, found, ok := mended(t, data); ok || !strings.Contains(found, "it is whole") {
			t.Errorf("%s: the whole file was mended: %q", name, found)
		}
	}
}

// A whole file with a flipped bit never passes for a cut one with other content.
func TestMendTellsDamageFromACut(t *testing.T) {
	for _, n := range []int{40, 600, 4000} {
		text := rows(n)
		for name, data := range map[string][]byte{"gzip": gzipped(t, []byte(text)), "zstd": zstded(t, []byte(text))} {
			passed, step := 0, max(1, len(data)/500)
			for i := 0; i < len(data); i += step {
				for bit := range 8 {
					if step > 1 && bit != i/step%8 && i > 100 && i < len(data)-100 {
						continue
					}
					bad := bytes.Clone(data)
					bad[i] ^= 1 << bit
					got, _, ok := mended(t, bad)
					if !ok {
						continue
					}
					if passed++; !strings.HasPrefix(text, got) {
						t.Errorf("%s of %d rows, bit %d of byte %d of %d flipped: mended to what was never packed", name, n, bit, i, len(data))
					}
				}
			}
			t.Logf("%s of %d rows: %d flips pass for a cut, all with what was packed", name, n, passed)
		}
	}
}

// A line's end in UTF-16 is two bytes; what is no text is not mended.
func TestMendText(t *testing.T) {
	for name, mark := range map[string]rune{"little": 0, "big": 1} {
		var raw []byte
		for _, u := range utf16.Encode([]rune("\uFEFF" + rows(2000))) {
			if mark == 0 {
				raw = append(raw, byte(u), byte(u>>8))
			} else {
				raw = append(raw, byte(u>>8), byte(u))
			}
		}
		data := gzipped(t, raw)
		got, _, ok := mended(t, data[:len(data)/2])
		if !ok || len(got)%2 != 0 || !bytes.HasPrefix(raw, []byte(got)) || !strings.Contains(got[len(got)-2:], "\n") {
			t.Errorf("%s-endian UTF-16: %v, %d bytes", name, ok, len(got))
		}
	}
	data := gzipped(t, append([]byte("MDF     \x00"), rows(2000)...))
	if _, found, ok := mended(t, data[:len(data)/2]); ok || !strings.Contains(found, "no text") {
		t.Errorf("no text: %v %q", ok, found)
	}
	data = gzipped(t, bytes.Repeat([]byte("x"), 1<<20))
	if _, found, ok := mended(t, data[:len(data)/2]); ok || !strings.Contains(found, "no line") {
		t.Errorf("no line: %v %q", ok, found)
	}
}
