package mapping

import (
	_ "embed"
	"fmt"
	"sync"

	"github.com/goccy/go-yaml"

	"dynolake/schema"
)

//go:embed words.yaml
var wordsYAML []byte

type phrase struct {
	Words []string
	Is    string
}

// words is the table of words.yaml, turned round for look-up.
type words struct {
	to         map[string][]string // A word and what it stands for.
	phrases    []phrase
	filler     map[string]bool
	modules    map[string]bool
	symbols    map[string][]string
	owners     map[string][]string
	computed   map[string]bool
	refuse     map[string]string
	glued      []string
	vocabulary map[string]bool // What a word run together may be made of.
}

var table = sync.OnceValue(func() words {
	var file struct {
		Same     map[string][]string
		Split    map[string][]string
		Phrases  []phrase
		Fillers  []string
		Modules  []string
		Symbols  map[string][]string
		Owners   map[string][]string
		Computed []string
		Refuse   map[string]string
		Glued    []string
	}
	if err := yaml.UnmarshalWithOptions(wordsYAML, &file, yaml.Strict()); err != nil {
		panic(fmt.Sprintf("read the embedded table of words: %v", err)) // A broken build, not a user's error.
	}
	w := words{to: map[string][]string{}, phrases: file.Phrases, filler: set(file.Fillers), modules: set(file.Modules), symbols: file.Symbols, owners: file.Owners, computed: set(file.Computed), refuse: file.Refuse, glued: file.Glued, vocabulary: set(file.Glued)}
	for canonical, others := range file.Same {
		w.vocabulary[canonical] = true
		for _, o := range others {
			w.to[o] = []string{canonical}
			w.vocabulary[o] = true
		}
	}
	for word, parts := range file.Split {
		w.to[word] = parts
		w.vocabulary[word] = true
	}
	for word := range file.Refuse {
		w.vocabulary[word] = true
	}
	for _, c := range schema.Columns() {
		for _, a := range c.Aliases {
			for _, t := range tokens(a, true) {
				w.vocabulary[t] = true
			}
		}
	}
	return w
})

func set(list []string) map[string]bool {
	m := map[string]bool{}
	for _, s := range list {
		m[s] = true
	}
	return m
}
