package tables

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
)

// Manifest lists the tables of a folder and what they stand on.
type Manifest struct {
	Format int     `json:"format"`
	Data   string  `json:"data"` // Stands for the runs.
	Tables []Table `json:"tables"`
}

// Table is one of them.
type Table struct {
	Name    string `json:"name"`
	Query   string `json:"query"`
	Rows    int    `json:"rows"`
	CSV     string `json:"csv_sha256"`
	Parquet string `json:"parquet_sha256"`
}

const manifestName = "manifest.json"

// ReadManifest reads a lake's manifest; it is empty where there are no tables or they are damaged.
func ReadManifest(root string) Manifest {
	var m Manifest
	text, err := os.ReadFile(filepath.Join(root, Folder, manifestName))
	if err != nil || json.Unmarshal(text, &m) != nil {
		return Manifest{}
	}
	return m
}

func (m *Manifest) sort() {
	slices.SortFunc(m.Tables, func(a, b Table) int { return cmp.Compare(a.Name, b.Name) })
	if m.Tables == nil {
		m.Tables = []Table{}
	}
}

func (m *Manifest) write(d Disk, dir string) error {
	text, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return fmt.Errorf("write the tables' manifest: %w", err)
	}
	return save(d, filepath.Join(dir, manifestName), func(w io.Writer) error {
		_, err := w.Write(append(text, '\n'))
		return err
	})
}

// files of a table with their checksums, by name.
func (t Table) files() map[string]string {
	return map[string]string{t.Name + ".csv": t.CSV, t.Name + ".parquet": t.Parquet}
}

// sound reports whether a table's files are as they were written.
func (t Table) sound(root string) bool {
	for name, sum := range t.files() {
		if got, err := sumFile(filepath.Join(root, Folder, name)); err != nil || got != sum {
			return false
		}
	}
	return true
}

// copy brings a table's files into another folder.
func (t Table) copy(d Disk, root, dir string) error {
	for name := range t.files() {
		err := save(d, filepath.Join(dir, name), func(w io.Writer) error {
			f, err := os.Open(filepath.Join(root, Folder, name))
			if err != nil {
				return err
			}
			_, err = io.Copy(w, f)
			return errors.Join(err, f.Close())
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func sumFile(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	_, err = io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), errors.Join(err, f.Close())
}

// save writes a new file and makes its content durable.
func save(d Disk, path string, write func(io.Writer) error) error {
	if err := d.Put(path, 0o666, write); err != nil {
		return fmt.Errorf("write table: %w", err)
	}
	return nil
}
