package main

import (
	"bytes"
	"testing"

	"dynolake/queries/packs"
)

// What the tables keep of the demo is byte for byte what computing it gives, in every form.
func TestKeptAnswersAreThoseComputed(t *testing.T) {
	lake := demoLakeFolder(t)
	set, err := packs.Load("")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range set.All() {
		computed := dynolake(t, "query", p.Name, "--lake", lake, "--format", "json", "--anew")
		if got := dynolake(t, "query", p.Name, "--lake", lake, "--format", "json"); !bytes.Equal(got, computed) {
			t.Errorf("%s: the kept answer is another than the computed one", p.Name)
		}
	}
	for _, form := range []string{"csv", "table", "markdown", "parquet"} {
		for _, name := range []string{"torque/peak", "backpressure/loading"} {
			computed := dynolake(t, "query", name, "--lake", lake, "--format", form, "--anew")
			if got := dynolake(t, "query", name, "--lake", lake, "--format", form); !bytes.Equal(got, computed) {
				t.Errorf("%s as %s: the kept answer is another than the computed one", name, form)
			}
		}
	}
	if got, want := dynolake(t, "limits", "--lake", lake), dynolake(t, "limits", "--lake", lake, "--anew"); !bytes.Equal(got, want) {
		t.Error("limits: the kept answer is another than the computed one")
	}
}
