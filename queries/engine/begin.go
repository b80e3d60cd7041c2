package engine

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
)

const defaultSpill = 64 << 30

// Begun is a database that is being opened for one session.
type Begun struct {
	done  chan struct{}
	s     *Session
	conn  *connection
	err   error
	taken bool
}

// Begin starts to open a session's database, of the Memory, Spill, Threads and Once of the Options. That takes milliseconds, in which the caller may find out what the other
// Options are to be. Open takes it as Options.Begun; whoever began calls Drop in the end.
func Begin(ctx context.Context, o Options) *Begun {
	b := &Begun{done: make(chan struct{})}
	go func() {
		defer close(b.done)
		b.s, b.conn, b.err = o.begin(ctx)
	}()
	return b
}

// Drop closes the database unless a session has taken it.
func (b *Begun) Drop() error {
	<-b.done
	if b.err != nil || b.taken {
		return nil
	}
	b.conn.close()
	return b.s.Close()
}

// start gives the database that was begun, or opens one.
func (o Options) start(ctx context.Context) (*Session, *connection, error) {
	if o.Begun == nil {
		o.Begun = Begin(ctx, o)
	}
	<-o.Begun.done
	if o.Begun.err != nil {
		return nil, nil, o.Begun.err
	}
	o.Begun.taken, o.Begun.s.timeout = true, o.Timeout
	return o.Begun.s, o.Begun.conn, nil
}

// begin opens an empty database with every setting in place but the locks.
func (o Options) begin(ctx context.Context) (*Session, *connection, error) {
	name := make([]byte, 8)
	if _, err := rand.Read(name); err != nil {
		return nil, nil, fmt.Errorf("name a temporary folder: %w", err)
	}
	s := &Session{macros: definitions(), made: map[string]bool{}, temp: filepath.Join(os.TempDir(), "dynolake-query-"+hex.EncodeToString(name))}
	conn, err := s.connect(ctx, o)
	if err != nil {
		return nil, nil, err
	}
	return s, conn, nil
}

// connect opens the session's database.
func (s *Session) connect(ctx context.Context, o Options) (*connection, error) {
	var err error
	if s.db, err = openDatabase(settings(o, s.temp)); err != nil {
		return nil, fmt.Errorf("start query session: %w", err)
	}
	conn, err := s.db.connect()
	if err == nil {
		// The limit of the temporary folder holds only where it is set in an open database: given at its opening it is shown and not kept.
		err = conn.run(ctx, "SET GLOBAL max_temp_directory_size = "+text(kibibytes(o.spill()))+"; SET GLOBAL TimeZone = 'UTC'; SET GLOBAL errors_as_json = true; SET GLOBAL parquet_metadata_cache = "+strconv.FormatBool(!o.Once))
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("start query session: %w", err), s.Close())
	}
	return conn, nil
}

// Renew puts a fresh database in the place of the session's. One that is asked one large question after the other keeps of the system's memory what each once
// took, three times what it counts. What was laid out of a part stays, and so does a session of given tables, which are in its database. No statement may be under way.
func (s *Session) Renew(ctx context.Context) error {
	if s.root == "" {
		return nil
	}
	s.making.Lock()
	defer s.making.Unlock()
	s.db.close()
	clear(s.made)
	conn, err := s.connect(ctx, s.stated)
	if err != nil {
		return err
	}
	defer conn.close()
	if s.part != nil {
		_, err = s.count(ctx, conn)
	}
	if err == nil && s.laid != nil {
		err = s.showLaid(ctx, conn)
	}
	if err == nil {
		err = conn.lock(ctx, s.reach())
	}
	if err != nil {
		return fmt.Errorf("start query session: %w", err)
	}
	return nil
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
