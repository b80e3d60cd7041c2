package fleet

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"unsafe"

	"github.com/ebitengine/purego"
)

// library is the embedded engine's C interface. Handles are addresses that the library alone reads.
type library struct {
	connect func(argc int32, argv **byte) uintptr // The address of a connection's handle; 0 on failure.
	close   func(conn uintptr)
	query   func(handle uintptr, statement, form string) uintptr
	stream  func(handle uintptr, statement, form string) uintptr
	fetch   func(handle, stream uintptr) uintptr
	cancel  func(handle, stream uintptr)
	destroy func(answer uintptr)
	buffer  func(answer uintptr) unsafe.Pointer
	length  func(answer uintptr) uintptr
	fault   func(answer uintptr) string
	quiet   func(enabled int32)

	control uintptr    // A connection that stays as long as others are open, and stops their statements; 0 where none is.
	one     sync.Mutex // For one statement at a time on it.
	using   sync.Mutex
	users   int // How many others are open.
}

// A library stays in the process that loaded it, whoever asked for it.
var (
	loading sync.Mutex
	loaded  = map[string]*library{}
)

// load opens the library at a path, once: a process cannot let go of it again.
func load(path string) (*library, error) {
	loading.Lock()
	defer loading.Unlock()
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("load the engine's library: %w", err)
	}
	if lib, ok := loaded[abs]; ok {
		return lib, nil
	}
	if len(loaded) > 0 {
		return nil, fmt.Errorf("load %q: another file of the library is loaded, and a process can hold one", path)
	}
	if info, err := os.Stat(abs); err != nil || info.IsDir() {
		return nil, fmt.Errorf("load %q: %w", path, ErrNoLibrary)
	}
	at, err := purego.Dlopen(abs, purego.RTLD_NOW|purego.RTLD_LOCAL)
	if err != nil {
		return nil, fmt.Errorf("load %q: it is no library that this machine can run: %w", path, err)
	}
	lib := &library{}
	for name, call := range lib.calls() {
		symbol, err := purego.Dlsym(at, name)
		if err != nil {
			return nil, fmt.Errorf("load %q: it lacks %s: want version 26.3 of libchdb, or newer", path, name)
		}
		purego.RegisterFunc(call, symbol)
	}
	loaded[abs] = lib
	return lib, nil
}

func (l *library) calls() map[string]any {
	return map[string]any{
		"chdb_connect": &l.connect, "chdb_close_conn": &l.close, "chdb_query": &l.query, "chdb_stream_query": &l.stream, "chdb_stream_fetch_result": &l.fetch,
		"chdb_stream_cancel_query": &l.cancel, "chdb_destroy_query_result": &l.destroy, "chdb_result_buffer": &l.buffer, "chdb_result_length": &l.length,
		"chdb_result_error": &l.fault, "chdb_set_signal_handlers_enabled": &l.quiet,
	}
}

// enter opens a connection, with the one in control before the first: the engine starts.
func (l *library) enter() (conn uintptr, err error) {
	l.using.Lock()
	defer l.using.Unlock()
	if l.control == 0 {
		if l.control, err = l.open(); err != nil {
			return 0, err
		}
	}
	l.users++
	if conn, err = l.open(); err != nil {
		l.gone()
	}
	return conn, err
}

// leave closes a connection, and the one in control behind the last: the engine ends, and removes the folder that it keeps among the system's temporary files.
func (l *library) leave(conn uintptr) {
	l.using.Lock()
	defer l.using.Unlock()
	l.close(conn)
	l.gone()
}

func (l *library) gone() {
	if l.users--; l.users == 0 {
		l.close(l.control)
		l.control = 0
	}
}

// open connects without the library's own handlers of signals, which would take those by which Go tells a nil pointer from a
// crash. Switching them off resets the process' own, so these are kept and put back.
func (l *library) open() (conn uintptr, err error) {
	kept, err := keepSignals()
	if err != nil {
		return 0, err
	}
	l.quiet(0)
	name := append([]byte("dynolake"), 0)
	argv := []*byte{&name[0], nil}
	conn = l.connect(1, &argv[0])
	if err := kept.restore(); err != nil {
		return 0, err
	}
	if conn == 0 {
		return 0, errors.New("start the embedded engine: it gives no connection")
	}
	return conn, nil
}

// handleOf reads a connection's handle, which lies where the library's answer points: memory of its own that does not move.
func handleOf(conn uintptr) uintptr { return **(**uintptr)(unsafe.Pointer(&conn)) }

// run executes a statement that has no answer.
func (l *library) run(conn uintptr, statement string) error {
	answer := l.query(handleOf(conn), statement, form)
	defer l.destroy(answer)
	if said := l.fault(answer); said != "" {
		return explain(said)
	}
	return nil
}

// bytes copies what an answer holds.
func (l *library) bytes(answer uintptr) []byte {
	n := l.length(answer)
	if n == 0 {
		return nil
	}
	return append([]byte(nil), unsafe.Slice((*byte)(l.buffer(answer)), n)...)
}
