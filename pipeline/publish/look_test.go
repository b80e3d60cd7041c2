package publish

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dynolake/schema"
)

// given is a table that a lake's configuration states.
func given(content string) []Stated {
	return []Stated{{Name: "vehicles", Columns: []StatedColumn{{Name: "id", Type: "VARCHAR", Meaning: "the vehicle's id"}}, Rows: 1, Content: []byte(content)}}
}

func TestWhatIsPublishedIsFound(t *testing.T) {
	l := stocked(t)
	env := serve(t)
	for _, dest := range []string{filepath.Join(t.TempDir(), "out"), "s3://lakes/north"} {
		o := with(Parquet, env)
		for i, c := range []struct {
			content string
			new     bool
		}{{"one", true}, {"one", false}, {"two", true}} {
			o.Stated = given(c.content)
			r, err := Run(t.Context(), l, dest, o)
			if err != nil || r.New() != c.new {
				t.Fatalf("%s, %d: new %v, %v", dest, i, r.New(), err)
			}
		}
		p, err := Look(t.Context(), dest, o.Env)
		if err != nil {
			t.Fatal(err)
		}
		s, err := l.Snapshot(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if p.Snapshot.ID != s.ID || p.Snapshot.Root != dest {
			t.Errorf("found snapshot %d at %s, want %d at %s", p.Snapshot.ID, p.Snapshot.Root, s.ID, dest)
		}
		store := openStore(t, dest, o.Env)
		for _, def := range schema.Tables() {
			files := p.Snapshot.Files[def.Name]
			if len(files) == 0 {
				t.Errorf("%s: no file of %s", dest, def.Name)
			}
			for _, f := range files {
				if _, err := store.Stat(t.Context(), f); err != nil {
					t.Errorf("%s: %v", dest, err)
				}
			}
		}
		stated := p.Snapshot.Files["vehicles"]
		text, err := store.Read(t.Context(), strings.Join(stated, ""))
		if err != nil || string(text) != "two" {
			t.Errorf("%s: the vehicles are %v: %q, %v", dest, stated, text, err)
		}
		if left := namesOf(t, store, "vehicles/"); !slices.Equal(left, stated) {
			t.Errorf("%s: %v is left of the vehicles, want %v", dest, left, stated)
		}
		if inBucket := strings.HasPrefix(dest, "s3:"); inBucket != (p.Access.Secret == secret) || inBucket != (p.Access.Endpoint == env["AWS_ENDPOINT_URL_S3"]) {
			t.Errorf("%s: reached by %q", dest, p.Access.Endpoint)
		}
	}
}

func TestPlacesWithoutAPublication(t *testing.T) {
	l := stocked(t)
	dir := t.TempDir()
	publishTo(t, l, filepath.Join(dir, "ice"), Iceberg)
	write := func(name, text string) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	ours := `{"program": "dynolake", "form": "parquet"}`
	write("theirs/publication.json", `{"program": "other"}`)
	write("torn/publication.json", ours)
	write("cut/publication.json", ours)
	write("cut/manifest.json", `{"tables": {`)
	for name, path := range map[string]string{"outside": "../../secret.parquet", "rooted": "/etc/passwd", "pattern": "runs/*.parquet", "braces": "runs/{a,b}.parquet"} {
		write(name+"/publication.json", ours)
		text, err := json.Marshal(manifest{Tables: map[string]manifestTable{"runs": {Files: []manifestFile{{Path: path}}}}})
		if err != nil {
			t.Fatal(err)
		}
		write(name+"/manifest.json", string(text))
	}
	for name, say := range map[string]string{
		"nowhere": "there is none", "ice": "published with --as iceberg", "theirs": "not ours", "torn": "run it again", "cut": "read manifest.json",
		"outside": "no publish writes", "rooted": "no publish writes", "pattern": "no publish writes", "braces": "no publish writes",
	} {
		if p, err := Look(t.Context(), filepath.Join(dir, name), noEnv); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("%s: %+v, %v, want %q", name, p, err, say)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "nowhere")); !os.IsNotExist(err) {
		t.Errorf("looking made a folder: %v", err)
	}
}
