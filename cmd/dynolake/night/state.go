package night

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"dynolake/queries/tables"
)

// State is what a refresh leaves for the next one.
type State struct {
	Format   int                    `json:"format"`
	At       time.Time              `json:"at"`       // When the refresh ended.
	Snapshot int64                  `json:"snapshot"` // That tables and report stand on.
	Data     string                 `json:"data"`     // Stands for its runs.
	Config   string                 `json:"config"`   // Stands for what the report shows of the configuration.
	Runs     map[string]string      `json:"runs"`     // Fingerprints by id.
	Pairs    []Pair                 `json:"pairs"`
	Tables   map[string]tables.Book `json:"tables"`
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
func (s State) Write(root string) error {
	s.Format = 1
	text, err := json.MarshalIndent(s, "", " ")
	if err == nil {
		err = Save(filepath.Join(root, filepath.FromSlash(stateName)), append(text, '\n'))
	}
	if err != nil {
		return fmt.Errorf("keep what the refresh did: %w", err)
	}
	return nil
}

// Save puts a file in its place in one step: readers find the old content or the new.
func Save(path string, text []byte) (err error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	temp := filepath.Join(filepath.Dir(path), ".tmp-"+filepath.Base(path))
	if err := os.Remove(temp); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	f, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, os.Remove(temp))
	}
	if err := os.Rename(temp, path); err != nil {
		return err
	}
	d, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
