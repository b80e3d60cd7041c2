package engine

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"dynolake/schema"
)

// Options of a session. The zero Options are good for one analyst on one machine.
type Options struct {
	Vehicles []schema.Vehicle
	Limits   []schema.Limit
	Columns  []UserColumn  // The user's own, behind the views' own; one that is faulty is told by Faults.
	Runs     []string      // Only these runs' samples, where their files tell the run by name; nil: all.
	Part     []string      // Only what belongs to runs of these vehicles, "" being those of none, and their entries; nil: all.
	Memory   int64         // Bytes that queries may hold; 0: four fifths of the machine's.
	Spill    int64         // Bytes that they may write to temporary files beyond it; 0: 64 GiB.
	Threads  int           // 0: one a core.
	Timeout  time.Duration // Longest time that one statement may run; 0: no limit.
}

const defaultSpill = 64 << 30

// Session is a database over one snapshot. Its methods may be called by several goroutines at once.
type Session struct {
	db      *database
	temp    string // Made by the database when it first needs it.
	timeout time.Duration
	macros  map[string]bool
	own     map[string][]UserColumn // By view.
	faults  []ColumnFault

	root   string // Of the lake; empty for given tables.
	part   part
	files  map[string][]string
	making sync.Mutex
	made   map[string]bool // The views that are there; guarded by making.
}

// Open starts a session over a snapshot, of a lake or of what was published of one, whose vehicles and limits are files too. No file is opened yet, save those of runs
// for a part: one that is missing or damaged is told of by the query that reads it.
func Open(ctx context.Context, snap schema.Snapshot, o Options) (*Session, error) {
	root, err := filepath.Abs(snap.Root)
	if err != nil {
		return nil, fmt.Errorf("open lake %q: %w", snap.Root, err)
	}
	s, conn, err := start(ctx, o)
	if err != nil {
		return nil, err
	}
	defer conn.close()
	s.root, s.files, s.made, s.part = root, maps.Clone(snap.Files), map[string]bool{}, o.Part
	if o.Runs != nil {
		s.files[samples] = pick(snap.Files[samples], o.Runs)
	}
	for view, query := range statedViews(o) {
		if files := s.files[view]; len(files) > 0 {
			query = publishedView(view, root, files)
		}
		if view == "vehicles" {
			query = "SELECT * FROM (" + query + ")" + s.part.where(view)
		}
		if err == nil {
			err = conn.run(ctx, s.creation(view, query))
		}
	}
	if err == nil {
		err = s.take(ctx, conn)
	}
	if err == nil {
		err = conn.lock(ctx, s.reach())
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open lake %q: %w", snap.Root, err), s.Close())
	}
	return s, nil
}

// statedViews are the queries of the views that hold what the lake's configuration states, by name.
func statedViews(o Options) map[string]string {
	return map[string]string{"vehicles": vehiclesView(o.Vehicles), "limits": limitsView(o.Limits)}
}

// creation is the statement that makes a view of a query, with the user's columns behind its own.
func (s *Session) creation(view, query string) string {
	return "CREATE VIEW " + ident(view) + " AS " + extended(query, s.own[view])
}

// Close ends the session and removes its temporary files. Rows that are still open stay readable until they are closed.
func (s *Session) Close() error {
	s.db.close()
	if err := os.RemoveAll(s.temp); err != nil {
		return fmt.Errorf("close query session: %w", err)
	}
	return nil
}

// start opens an empty database with every setting in place but the locks, and the macros in it.
func start(ctx context.Context, o Options) (*Session, *connection, error) {
	name := make([]byte, 8)
	if _, err := rand.Read(name); err != nil {
		return nil, nil, fmt.Errorf("name a temporary folder: %w", err)
	}
	s := &Session{timeout: o.Timeout, temp: filepath.Join(os.TempDir(), "dynolake-query-"+hex.EncodeToString(name))}
	var err error
	if s.db, err = openDatabase(settings(o, s.temp)); err != nil {
		return nil, nil, fmt.Errorf("start query session: %w", err)
	}
	conn, err := s.db.connect()
	if err == nil {
		// The limit of the temporary folder holds only where it is set in an open database: given at its opening it is shown and not kept.
		err = conn.run(ctx, "SET GLOBAL max_temp_directory_size = "+text(kibibytes(o.spill()))+"; SET GLOBAL TimeZone = 'UTC'; SET GLOBAL errors_as_json = true; SET GLOBAL parquet_metadata_cache = true")
	}
	if err == nil {
		s.macros, err = conn.macros(ctx)
	}
	if err == nil {
		err = s.admitColumns(ctx, conn, o.Columns)
	}
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("start query session: %w", err), s.Close())
	}
	return s, conn, nil
}

// settings of a session's database, by name.
func settings(o Options, temp string) map[string]string {
	m := map[string]string{
		"autoinstall_known_extensions": "false", "autoload_known_extensions": "false", "allow_community_extensions": "false",
		"allow_persistent_secrets": "false", "ieee_floating_point_ops": "false", // Division by zero gives NULL.
		"temp_directory": temp,
	}
	if o.Memory > 0 {
		m["memory_limit"] = kibibytes(o.Memory)
	}
	if o.Threads > 0 {
		m["threads"] = strconv.Itoa(o.Threads)
	}
	return m
}

func (o Options) spill() int64 {
	if o.Spill > 0 {
		return o.Spill
	}
	return defaultSpill
}

func kibibytes(n int64) string { return strconv.FormatInt(max(n>>10, 1), 10) + "KiB" }

// folder makes the session's temporary folder.
func (s *Session) folder() error {
	if err := os.Mkdir(s.temp, 0o700); err != nil {
		return fmt.Errorf("make a temporary folder: %w", err)
	}
	return nil
}

// reach lists the folders that the views read.
func (s *Session) reach() []string {
	var folders []string
	for _, t := range schema.Tables() {
		folders = append(folders, filepath.Join(s.root, t.Name))
	}
	folders = append(folders, filepath.Join(s.root, "vehicles"), filepath.Join(s.root, "limits")) // Of what was published.
	if s.made[curves] {
		folders = append(folders, s.temp) // They are laid out there.
	}
	return folders
}

// lock closes the database to everything but some folders, and then its settings to any change.
func (c *connection) lock(ctx context.Context, folders []string) error {
	list := make([]string, 0, 2*len(folders))
	for _, f := range folders {
		f += string(filepath.Separator)
		list = append(list, text(f), text(literal(f))) // Paths are compared as they are written.
	}
	return c.run(ctx, "SET GLOBAL allowed_directories = ["+strings.Join(list, ", ")+"]; SET GLOBAL enable_external_access = false; SET GLOBAL lock_configuration = true")
}
