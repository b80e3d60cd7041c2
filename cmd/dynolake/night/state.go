package night

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"dynolake/pipeline/disk"
	"dynolake/queries/tables"
)

// State is what a refresh leaves for the next one.
type State struct {
	Format   int                    `json:"format"`
	Tables   map[string]tables.Book `json:"tables"`   // First of what is long, so that who asks for it alone need not read the rest.
	At       time.Time              `json:"at"`       // When the refresh ended.
	Snapshot int64                  `json:"snapshot"` // That tables and report stand on.
	Data     string                 `json:"data"`     // Stands for its runs.
	Config   string                 `json:"config"`   // Stands for what the report shows of the configuration.
	Runs     map[string]string      `json:"runs"`     // Fingerprints by id.
	Shares   tables.Shares          `json:"shares"`   // By vehicle what stands for its runs.
	Verdicts map[string]string      `json:"verdicts"` // By comparison.
	Passed   map[string]Passed      `json:"passed"`   // By vehicle, calibration, limit.
}

const stateName = "reports/refresh.json"

// Read reads a lake's state; it is empty where there is none, or none that can be read.
func Read(root string) State {
	var s State
	text, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(stateName)))
	if err != nil || json.Unmarshal(text, &s) != nil {
		return State{}
	}
	return s
}

// Write makes the state durable in one step.
func (s State) Write(d disk.Disk, root string) error {
	s.Format = 1
	text, err := json.MarshalIndent(s, "", " ")
	if err == nil {
		err = d.Save(filepath.Join(root, filepath.FromSlash(stateName)), 0o666, func(w io.Writer) error {
			_, err := w.Write(append(text, '\n'))
			return err
		})
	}
	if err != nil {
		return fmt.Errorf("keep what the refresh did: %w", err)
	}
	return nil
}

// Books reads of a lake's state what it says of the tables; nothing where there is no state, or none that can be read.
func Books(root string) map[string]tables.Book {
	f, err := os.Open(filepath.Join(root, filepath.FromSlash(stateName)))
	if err != nil {
		return nil
	}
	defer func() { _ = f.Close() }() // It was only read.
	d := json.NewDecoder(bufio.NewReader(f))
	for depth := 0; ; {
		token, err := d.Token()
		if err != nil {
			return nil
		}
		switch token {
		case json.Delim('{'), json.Delim('['):
			depth++
		case json.Delim('}'), json.Delim(']'):
			depth--
		case "tables":
			if depth != 1 {
				continue
			}
			var books map[string]tables.Book
			if d.Decode(&books) != nil {
				return nil
			}
			return books
		}
	}
}
