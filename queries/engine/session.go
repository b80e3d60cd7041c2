package engine

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
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
	Once     bool          // One statement is to be asked, which reads no view twice: what files say of themselves is not kept for the next.
	Begun    *Begun        // What Begin gave for these Memory, Spill, Threads and Once; nil: Open opens a database by itself.
}

// Session is a database over one snapshot. Its methods may be called by several goroutines at once.
type Session struct {
	db      *database
	temp    string // Made by the database when it first needs it.
	timeout time.Duration
	macros  map[string]definition
	own     map[string][]UserColumn // By view.
	faults  []ColumnFault

	root   string // Of the lake; empty for given tables.
	part   part
	laid   []string // Files of the part's curves, as SQL has texts; nil where they are not laid out.
	files  map[string][]string
	stated Options  // What the configuration states.
	looked sync.Map // Files that have field ids.
	making sync.Mutex
	made   map[string]bool // The views that are there, and the macros as name(); guarded by making.
}

// Open starts a session over a snapshot, of a lake or of what was published of one, whose vehicles and limits are files too. No file is opened yet, save those of runs
// for a part: one that is missing or damaged is told of by the query that reads it.
func Open(ctx context.Context, snap schema.Snapshot, o Options) (*Session, error) {
	root, err := filepath.Abs(snap.Root)
	if err != nil {
		return nil, fmt.Errorf("open lake %q: %w", snap.Root, err)
	}
	s, conn, err := o.start(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.close()
	s.root, s.files, s.stated, s.part = root, maps.Clone(snap.Files), o, o.Part
	if o.Runs != nil {
		s.files[samples] = pick(snap.Files[samples], o.Runs)
	}
	if err = s.admitColumns(ctx, conn, o.Columns); err == nil {
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

// statedView is the query of a view that holds what the configuration states, of the lake or of what was published of one.
func (s *Session) statedView(view string) string {
	query := statedViews(s.stated)[view]
	if files := s.files[view]; len(files) > 0 {
		query = publishedView(view, s.root, files)
	}
	if view == "vehicles" {
		query = "SELECT * FROM (" + query + ")" + s.part.where(view)
	}
	return query
}

// creation is the statement that makes a view of a query, with the user's columns behind its own.
func (s *Session) creation(view, query string) string {
	return "CREATE VIEW " + ident(view) + " AS " + extended(query, s.own[view])
}

// Close ends the session and removes its temporary files. Rows that are still open stay readable until they are closed.
func (s *Session) Close() error {
	s.db.close()
	return s.clear()
}

// Leave is Close for a program that is about to end: it does not wait for the database to free its memory, which takes as long as a short statement, but
// has that done a little later if the program is still there.
func (s *Session) Leave() error {
	const later = 200 * time.Millisecond
	time.AfterFunc(later, s.db.close)
	return s.clear()
}

// clear removes the session's temporary files.
func (s *Session) clear() error {
	if err := os.RemoveAll(s.temp); err != nil {
		return fmt.Errorf("close query session: %w", err)
	}
	return nil
}

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
