package schema

import (
	"bytes"
	"encoding/json"
	"os"
	"testing"

	"github.com/goccy/go-yaml"
)

// The lists that the program carries are those of the YAML files, to the letter, and hold nothing that the structs have no field for. UPDATE_LISTS=1 makes them anew.
func TestListsAreTheYAML(t *testing.T) {
	all := map[string]any{}
	for _, name := range []string{"channels", "tables", "units"} {
		text, err := os.ReadFile(name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		var list any
		if err := yaml.Unmarshal(text, &list); err != nil {
			t.Fatal(err)
		}
		all[name] = list
	}
	want, err := json.MarshalIndent(all, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	want = append(want, '\n')
	if os.Getenv("UPDATE_LISTS") != "" {
		if err := os.WriteFile("lists.json", want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(listsJSON, want) {
		t.Error("lists.json is not what channels.yaml, tables.yaml and units.yaml hold: run UPDATE_LISTS=1 go test ./schema -run Lists")
	}
	strict := json.NewDecoder(bytes.NewReader(want))
	strict.DisallowUnknownFields()
	if err := strict.Decode(new(lists)); err != nil {
		t.Error(err)
	}
}

func BenchmarkLists(b *testing.B) {
	for b.Loop() {
		if err := json.Unmarshal(listsJSON, new(lists)); err != nil {
			b.Fatal(err)
		}
	}
}
