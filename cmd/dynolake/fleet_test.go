package main

import (
	"bytes"
	"fmt"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"

	"dynolake/pipeline/publish"
	"dynolake/queries/engine"
	"dynolake/queries/fleet"
	"dynolake/queries/packs"
	"dynolake/queries/result"
)

// otherEngine tells where the embedded engine's library is; without it the test is left out, save in CI.
func otherEngine(t *testing.T) {
	t.Helper()
	if os.Getenv(fleet.LibraryVariable) != "" {
		return
	}
	if os.Getenv("CI") != "" {
		t.Fatalf("%s names no library", fleet.LibraryVariable)
	}
	t.Skipf("%s names no library", fleet.LibraryVariable)
}

// asks are the questions that both engines are asked beside every pack with its defaults.
func asks() []struct{ pack, params string } {
	return []struct{ pack, params string }{
		{"torque/delta", "base=stock candidate=step3"},
		{"torque/delta", "base=stock candidate=step1 corrected=true vehicle=invented-truck-e"},
		{"compare/curves", "base=step1 candidate=step2 gear=4"},
		{"compare/curves", "since=2025-02-01 until=2025-05-01T12:00:00Z corrected=true"},
		{"drive/onset", "thresholds=0.9,1.15,1.7 vehicle=invented-car-a"},
		{"drive/onset", "thresholds= platform=invented-heavy-11l"},
		{"drive/by_power", "basis=system"},
		{"drive/marginal", "spool_share=0.3 bend_least=4"},
		{"limits/first", "ratio=null vane_open=null vane_closed=null rail_deficit=null"},
		{"limits/margin", "calibration=stock locked=true"},
		{"platform/normalised", "axis=speed width=0.1"},
		{"charge/compressor", "width=0.25 charge_within=2"},
		{"air/lambda", "basis=reckoned limit=1.4"},
		{"backpressure/limit", "limit_kpa=15 baro_within=0.5"},
		{"backpressure/loading", "flow=0.3 flow_within=0.2"},
		{"shift/points", "vehicle=invented-van-c test=road"},
		{"shift/by_pedal", "platform=invented-light-2l"},
		{"torque/curve", "test=sweep standard=saej1349-2004"},
		{"torque/peak", "calibration=nothing-of-that-name"},
	}
}

// statements are asked too, to hold every view with all of its columns.
func statements() []string {
	return []string{
		"SELECT * FROM runs ORDER BY run_id",
		"SELECT * FROM segments ORDER BY run_id, segment_id",
		"SELECT * FROM curves WHERE n_samples > 20 ORDER BY run_id, segment_id, axis, bin LIMIT 400",
		"SELECT * FROM samples WHERE run_id IN (SELECT min(run_id) FROM runs GROUP BY platform) ORDER BY run_id, t_s LIMIT 5000",
		"SELECT * FROM sources ORDER BY run_id, source",
		"SELECT * FROM findings ORDER BY run_id, source, code, channel, text, value, t0_s, t1_s",
		"SELECT * FROM vehicles ORDER BY id",
		"SELECT * FROM limits ORDER BY entry, direction",
		"SELECT run_id, source, name, unit, count(*) AS n, count(value) AS v, count(text) AS w, min(t_s) AS lo, max(value) AS hi FROM unmapped GROUP BY run_id, source, name, unit ORDER BY run_id, source, name, unit",
	}
}

// Every query of every pack gives the same table on both engines, over the same published files: in a folder and in a bucket, where
// the defaults are asked.
func TestPacksAgreeOnTwoEngines(t *testing.T) {
	otherEngine(t)
	folder := filepath.Join(t.TempDir(), "published")
	must(t, "publish", folder, "--as", "parquet", "--lake", demoLakeFolder(t))
	bucket := bucketFor(t)
	must(t, "publish", bucket, "--as", "parquet", "--lake", demoLakeFolder(t))
	own := lookAt(t, folder)
	home, err := engine.Open(t.Context(), own.Snapshot, engine.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = home.Close() }()
	want := map[string]string{}
	for _, place := range []string{folder, bucket} {
		p := lookAt(t, place)
		other, err := fleet.Open(t.Context(), p.Snapshot, fleet.Options{Engine: fleet.Embedded, Bucket: fleet.Bucket(p.Access), Env: os.Getenv, Threads: 2, Memory: 2 << 30})
		if err != nil {
			t.Fatal(err)
		}
		rows := 0
		for name, statement := range questions(t) {
			if _, params, _ := strings.Cut(name, " "); place == bucket && params != "" && !strings.HasPrefix(name, "SELECT ") {
				continue
			}
			if want[name] == "" {
				want[name] = printed(t, home, name, statement)
			}
			got := printed(t, other, name, statement)
			if got != want[name] {
				t.Errorf("%s of %s differs: %s", name, place, firstDifference(want[name], got))
			}
			rows += strings.Count(got, "\n") - 1
		}
		if rows < 10000 {
			t.Errorf("%s: %d rows were compared, want thousands", place, rows)
		}
		if err := other.Close(); err != nil {
			t.Error(err)
		}
	}
}

// questions gives every statement by a name.
func questions(t *testing.T) map[string]string {
	t.Helper()
	set, err := packs.Load("")
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]string{}
	add := func(p *packs.Pack, params string) {
		given := map[string]string{}
		for _, f := range strings.Fields(params) {
			name, value, _ := strings.Cut(f, "=")
			given[name] = value
		}
		if all[p.Name+" "+params], err = p.SQL(given); err != nil {
			t.Fatal(err)
		}
	}
	for _, p := range set.All() {
		add(p, "")
	}
	for _, a := range asks() {
		p, err := set.Pack(a.pack)
		if err != nil {
			t.Fatal(err)
		}
		add(p, a.params)
	}
	for _, s := range statements() {
		all[s] = s
	}
	return all
}

func lookAt(t *testing.T, place string) publish.Publication {
	t.Helper()
	p, err := publish.Look(t.Context(), place, os.Getenv)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// printed asks and gives the answer as CSV, which has every digit.
func printed(t *testing.T, s engine.Asker, name, statement string) string {
	t.Helper()
	rows, err := s.Query(t.Context(), statement)
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return ""
	}
	var kinds, text bytes.Buffer
	for _, c := range rows.Columns() {
		fmt.Fprintf(&kinds, "%s %d/%d ", c.Name, c.Kind, c.Scale)
	}
	if err := result.Write(t.Context(), &text, rows, result.CSV, result.Options{}); err != nil {
		t.Errorf("%s: %v", name, err)
	}
	return kinds.String() + "\n" + text.String()
}

func firstDifference(want, got string) string {
	a, b := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return fmt.Sprintf("line %d:\n%s\nwant\n%s", i+1, b[i], a[i])
		}
	}
	return fmt.Sprintf("%d lines, want %d", len(b), len(a))
}

// bucketFor starts an S3 server on the loopback address, points the environment to it and gives a place in it.
func bucketFor(t *testing.T) string {
	t.Helper()
	memory := s3mem.New()
	if err := memory.CreateBucket("lakes"); err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(gofakes3.New(memory, gofakes3.WithLogger(gofakes3.DiscardLog())).Server())
	t.Cleanup(server.Close)
	for name, value := range map[string]string{"AWS_ENDPOINT_URL_S3": server.URL, "AWS_REGION": "us-east-1", "AWS_ACCESS_KEY_ID": "WORKSHOPKEYIDWORKSHO", "AWS_SECRET_ACCESS_KEY": "a-secret/that+nobody'may-read"} {
		t.Setenv(name, value)
	}
	return "s3://lakes/shop ü+%/north"
}
