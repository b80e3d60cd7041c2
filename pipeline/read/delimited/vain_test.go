package delimited_test

import (
	"fmt"
	"strings"
	"testing"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/delimited"
	"dynolake/pipeline/read/readtest"
)

// Lines that only look like headers cost no window each for ever, and the rows between and behind them are read.
func TestLinesLikeHeaders(t *testing.T) {
	var b strings.Builder
	b.WriteString("Time [s],RPM\n")
	const n = 3000
	for i := range n {
		fmt.Fprintf(&b, "%d,%d\n", i, 800+i)
		if i%3 == 2 {
			b.WriteString("time,a,b,c,d,e,f\n")
		}
	}
	logs, err := read.Collect(t.Context(), delimited.Reader{}, readtest.Bytes("a.csv", []byte(b.String())))
	if err != nil {
		t.Fatal(err)
	}
	if len(logs) != 1 || len(logs[0].Series) != 1 || len(logs[0].Series[0].T) != n || logs[0].Series[0].Values[0][n-1] != 800+n-1 {
		t.Errorf("%d parts, want one of %d rows", len(logs), n)
	}
}
