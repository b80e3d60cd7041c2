package schema

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"sync"
)

//go:embed lists.json
var listsJSON []byte

// lists is what channels.yaml, tables.yaml and units.yaml hold. lists.json is made of these, and a test watches that it is: every command reads it when it
// starts, and reading YAML takes ten times as long.
type lists struct {
	Channels struct{ Measured, Derived []Column }
	Tables   []struct {
		Table, Meaning, Catalogue string // Catalogue: samples or curves, for a table that goes on with the columns of channels.yaml.
		Columns                   []Column
	}
	Units []Unit
}

// stated reads the lists. An error is one of a broken build, not of a user's: it panics.
var stated = sync.OnceValue(func() (l lists) {
	if err := json.Unmarshal(listsJSON, &l); err != nil {
		panic(fmt.Sprintf("read the embedded lists: %v", err))
	}
	return l
})
