package pipeline

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"dynolake/pipeline/lake"
	"dynolake/pipeline/read"
	"dynolake/pipeline/read/canlog"
	"dynolake/pipeline/read/canlog/dbc"
	"dynolake/pipeline/sheet"
	"dynolake/schema"
)

// mostDatabase is more than any CAN database has, bytes.
const mostDatabase = 64 << 20

// canBus is the CAN databases of a lake's config/can, in the order of their names.
type canBus struct {
	databases []dbc.Database
	sum       string // Fingerprint of their bytes; empty without any.
}

// loadCAN reads the databases of config/can. Errors begin with file:line:column.
func loadCAN(dir string) (canBus, error) {
	var c canBus
	names, err := databasesIn(filepath.Join(dir, "can"))
	if err != nil || len(names) == 0 {
		return c, err
	}
	h := sha256.New()
	for _, path := range names {
		f, err := os.Open(path)
		if err != nil {
			return c, err
		}
		db, err := parseDatabase(path, io.TeeReader(f, h))
		if err := errors.Join(err, f.Close()); err != nil {
			return c, err
		}
		c.databases = append(c.databases, db)
	}
	c.sum = hex.EncodeToString(h.Sum(nil)[:8])
	return c, nil
}

func parseDatabase(path string, r io.Reader) (dbc.Database, error) {
	text, err := io.ReadAll(io.LimitReader(r, mostDatabase+1))
	if err != nil {
		return dbc.Database{}, fmt.Errorf("read %s: %w", path, err)
	}
	if len(text) > mostDatabase {
		return dbc.Database{}, fmt.Errorf("%s:1:1: the database is larger than %d MiB", path, mostDatabase>>20)
	}
	db, err := dbc.Parse(path, text)
	db.Name = filepath.Base(path)
	return db, err
}

// databasesIn lists the database files of a folder by name. A folder that is not there has none.
func databasesIn(dir string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var list []string
	for _, e := range entries {
		if !e.IsDir() && isDatabase(e.Name()) && !strings.HasPrefix(e.Name(), ".") {
			list = append(list, filepath.Join(dir, e.Name()))
		}
	}
	return list, err
}

// database is a CAN database that lies beside a log.
type database struct {
	Name   string                        `json:"name"`
	SHA256 string                        `json:"sha256"`
	open   func() (io.ReadCloser, error) // Nil when the archive alone has its bytes.
}

// beside lists the databases that a log is read with when it is one of a CAN bus: those packed beside it, then those in the folder
// of the file.
func beside(ctx context.Context, f sheet.File, src schema.Source, packed []schema.Source) ([]database, error) {
	paths, err := databasesIn(filepath.Dir(f.Path))
	if err != nil { // A folder that cannot be listed has none to offer; its logs are read all the same.
		paths = nil
	}
	for _, p := range paths {
		packed = append(packed, schema.Source{Name: p, Size: -1, Open: func() (io.ReadCloser, error) { return os.Open(p) }})
	}
	if len(packed) == 0 {
		return nil, ctx.Err()
	}
	r, err := read.Detect(ctx, src)
	if _, can := r.(canlog.Reader); err != nil || !can {
		return nil, ctx.Err()
	}
	var list []database
	for _, p := range packed {
		sum, _, err := sumOf(ctx, p)
		if err != nil {
			return nil, fmt.Errorf("read the database %s: %w", p.Name, err)
		}
		list = append(list, database{path.Base(filepath.ToSlash(p.Name)), sum, p.Open})
	}
	return list, nil
}

// packedBeside picks, among the files of an archive of that name, the databases in a member's folder, or in the nearest one above
// it that has any.
func packedBeside(files []schema.Source, archive, member string) []schema.Source {
	for dir := path.Dir(member); strings.HasPrefix(dir+"/", archive+"/"); dir = path.Dir(dir) {
		var list []schema.Source
		for _, f := range files {
			if isDatabase(f.Name) && path.Dir(f.Name) == dir {
				list = append(list, f)
			}
		}
		if len(list) > 0 {
			slices.SortFunc(list, func(a, b schema.Source) int { return strings.Compare(a.Name, b.Name) })
			return list
		}
	}
	return nil
}

func isDatabase(name string) bool { return strings.EqualFold(path.Ext(name), ".dbc") }

// decoder gives the databases that a member is read with: those beside it, then the lake's. One that cannot be understood is told;
// the error says that the archive has lost one.
func (s *shelf) decoder(m member) ([]dbc.Database, []schema.Finding, error) {
	var list []dbc.Database
	var found []schema.Finding
	for _, d := range m.Databases {
		db, err := s.database(d)
		if errors.Is(err, lake.ErrArchive) {
			return nil, nil, fmt.Errorf("read the database %s: %w", d.Name, err)
		}
		if err != nil {
			f := remark(schema.Doubt, "dbc_rejected", math.NaN(), "", "the database beside the log is not used: %v", err)
			f.Source = m.Source
			found = append(found, f)
			continue
		}
		list = append(list, db)
	}
	return append(list, s.can.databases...), found, nil
}

func (s *shelf) database(d database) (dbc.Database, error) {
	open := d.open
	if s.blob != nil {
		open = func() (io.ReadCloser, error) { return s.blob(d.SHA256) }
	}
	f, err := open()
	if err != nil {
		return dbc.Database{}, err
	}
	db, err := parseDatabase(d.Name, f)
	return db, errors.Join(err, f.Close())
}

// archiveDatabases stores the databases that lie beside a job's logs.
func (j *job) archiveDatabases(ctx context.Context, w *lake.Writer) error {
	var had []string
	for _, m := range j.members {
		for _, d := range m.Databases {
			if d.open == nil || slices.Contains(had, d.SHA256) {
				continue
			}
			had = append(had, d.SHA256)
			f, err := d.open()
			if err != nil {
				return err
			}
			blob, err := w.Archive(ctx, f)
			if err := errors.Join(err, f.Close()); err != nil {
				return err
			}
			if blob.SHA256 != d.SHA256 {
				return fmt.Errorf("read %s: it changed while it was read: try again when it is complete", d.Name)
			}
		}
	}
	return nil
}

// databases lists the SHA-256 of the databases beside the job's logs.
func (j *job) databases() []string {
	var list []string
	for _, m := range j.members {
		for _, d := range m.Databases {
			if !slices.Contains(list, d.SHA256) {
				list = append(list, d.SHA256)
			}
		}
	}
	return list
}

// keepDatabases brings a stored run's members up to what the job found beside the logs. Where it found none, those that the run
// was made with stay, for the same log may come from another folder.
func (j *job) keepDatabases(was []member) []member {
	now := slices.Clone(was)
	for i := range now {
		for k := range j.members {
			if j.members[k].key() != now[i].key() {
				continue
			}
			if len(j.members[k].Databases) == 0 {
				j.members[k].Databases = now[i].Databases
			}
			now[i].Databases = j.members[k].Databases
		}
	}
	return now
}

// databases stands for the databases that a run is read with.
func (d depends) databases() string {
	list := []string{d.Database}
	for _, m := range d.Members {
		for _, db := range m.Databases {
			list = append(list, db.SHA256)
		}
	}
	return strings.Join(list, " ")
}

// isCAN reports whether any of the logs is of a CAN bus.
func isCAN(logs []schema.Log) bool {
	return slices.ContainsFunc(logs, func(l schema.Log) bool { return l.Form == canlog.Form })
}
