package config

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"time"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

// Config is what the files of a lake's config folder say.
type Config struct {
	Location *time.Location // Of times that are written without a zone; UTC when not stated.
	Vehicles []Vehicle      // In the order of the file.
	Dynos    []Dyno
	Limits   []schema.Limit
	Columns  []UserColumn     // Their formulas are still to be read.
	Problems []error          // Entries of columns.yaml that cannot be used, each beginning file:line:column.
	Findings []schema.Finding // Doubts about entries that could be used.
}

// Vehicle is an entry of vehicles.yaml.
type Vehicle struct {
	schema.Vehicle
	Fingerprint string // Empty for a vehicle that is not listed.
	Origin      string // file:line:column of the entry.
}

// Dyno is an entry of dynos.yaml.
type Dyno struct {
	schema.Dyno
	Fingerprint string
	Origin      string
}

// Kinds of dyno; a run on the road has none.
const (
	Inertia = "inertia"
	Brake   = "brake"
	NoDyno  = "none"
)

// maxFile bounds a file, which people write by hand.
const maxFile = 16 << 20

// Load reads the config folder dir. Errors begin with file:line:column.
func Load(dir string) (Config, error) {
	c := Config{Location: time.UTC}
	var errs []error
	for _, part := range []struct {
		file string
		read func(entry.Value) error
	}{{"lake.yaml", c.readLake}, {"vehicles.yaml", c.readVehicles}, {"dynos.yaml", c.readDynos}, {"limits.yaml", c.readLimits}} {
		root, err := read(filepath.Join(dir, part.file))
		if err == nil && root.Kind != entry.Null {
			err = part.read(root)
		}
		errs = append(errs, err)
	}
	if err := errors.Join(errs...); err != nil {
		return Config{}, err
	}
	c.doubtLimits()
	c.readColumns(filepath.Join(dir, "columns.yaml"))
	return c, nil
}

// fileText is a file's text, empty where it cannot be read.
func fileText(path string) string {
	data, err := os.ReadFile(path)
	if err != nil {
		return ""
	}
	text, err := entry.Decode(data)
	if err != nil {
		return ""
	}
	return text
}

func read(path string) (entry.Value, error) {
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return entry.Value{}, nil
	}
	if err != nil {
		return entry.Value{}, fmt.Errorf("read configuration: %w", err)
	}
	if len(data) > maxFile {
		return entry.Value{}, fmt.Errorf("%s:1:1: found %d bytes: want at most %d", path, len(data), maxFile)
	}
	text, err := entry.Decode(data)
	if err != nil {
		return entry.Value{}, fmt.Errorf("%s:1:1: %w", path, err)
	}
	return entry.Parse(path, []byte(text))
}

// Vehicle finds a vehicle by its id, without regard to case. A vehicle that is not listed has its id alone.
func (c Config) Vehicle(id string) (Vehicle, bool) {
	for _, v := range c.Vehicles {
		if strings.EqualFold(v.ID, strings.TrimSpace(id)) {
			return v, true
		}
	}
	return Vehicle{Vehicle: schema.Vehicle{ID: id, Strokes: 4, FuelDensityKgL: FuelDensity, FuelStoichRatio: FuelStoich}}, false
}

// Dyno finds a dyno by its id or, where no id fits, gives one of which the kind alone is known: inertia, brake or none. It is
// false for anything else, and for an empty text.
func (c Config) Dyno(idOrKind string) (Dyno, bool) {
	idOrKind = strings.TrimSpace(idOrKind)
	for _, d := range c.Dynos {
		if strings.EqualFold(d.ID, idOrKind) {
			return d, true
		}
	}
	for _, kind := range []string{Inertia, Brake, NoDyno} {
		if strings.EqualFold(kind, idOrKind) {
			d := schema.Dyno{Kind: kind}
			return Dyno{Dyno: d, Fingerprint: Fingerprint(d)}, true
		}
	}
	return Dyno{}, false
}

// LimitFor gives the bounds of a column that hold for a run, the closest match each.
func (c Config) LimitFor(column, vehicle, platform, duty, test string) (schema.Limit, bool) {
	return schema.LimitFor(c.Limits, column, vehicle, platform, duty, test)
}

// Fingerprint stands for a struct's content: 16 hex digits over the fields that are not zero, by name, so that a field which a
// later version adds changes nothing where it is not stated.
func Fingerprint(v any) string {
	h := sha256.New()
	r := reflect.ValueOf(v)
	for i := range r.NumField() {
		if f := r.Field(i); !f.IsZero() {
			_, _ = fmt.Fprintf(h, "%s=%#v\n", r.Type().Field(i).Name, f.Interface()) // A hash takes every write.
		}
	}
	return hex.EncodeToString(h.Sum(nil)[:8])
}
