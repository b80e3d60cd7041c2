package delimited_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"strings"
	"testing"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/delimited"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
)

// A preamble may be longer than any probe, and be full of delimiters and numbers.
func TestLongPreamble(t *testing.T) {
	var b bytes.Buffer
	b.WriteString("Recorder;box 4\n")
	for i := range 9000 {
		fmt.Fprintf(&b, "Map cell %d;%d;%d;%d\n", i, i*3, i*7, i%5)
	}
	b.WriteString("Time [s];RPM;Boost [kPa]\n0.0;800;101\n0.1;805;102\n0.2;806;103\n")
	src := readtest.Bytes("log.csv", b.Bytes())
	r, err := read.Detect(context.Background(), src)
	if err != nil {
		t.Fatal(err)
	}
	logs, err := read.Collect(context.Background(), r, src)
	if err != nil {
		t.Fatal(err)
	}
	l := logs[0]
	if len(l.Notes) != 9001 || l.Notes[0] != [2]string{"Recorder", "box 4"} || len(l.Series) != 1 || len(l.Series[0].T) != 3 || l.Series[0].Channels[1].Name != "Boost" {
		t.Errorf("%d notes, first %q, series %+v", len(l.Notes), l.Notes[0], l.Series)
	}
}

// Endless text without a table must end in an error without being held.
func TestEndlessText(t *testing.T) {
	line := []byte("the quick brown fox, jumped; over 12 lazy dogs | and 7 cats\n")
	src := schema.Source{Name: "log.csv", Size: -1, Open: func() (io.ReadCloser, error) {
		return io.NopCloser(io.LimitReader(endless{line}, 1<<20)), nil
	}}
	err := delimited.Reader{}.Read(context.Background(), src, &drain{})
	if err == nil || !strings.Contains(err.Error(), "no table found") {
		t.Errorf("got %v", err)
	}
}

type endless struct{ line []byte }

func (e endless) Read(p []byte) (int, error) {
	n := 0
	for n < len(p) {
		n += copy(p[n:], e.line)
	}
	return n, nil
}
