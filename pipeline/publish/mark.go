package publish

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"dynolake/pipeline/publish/store"
)

const (
	markName = "publication.json"
	program  = "dynolake"
)

// mark says what a destination holds. It is written first, and never changed.
type mark struct {
	Program  string `json:"program"`
	Form     Form   `json:"form"`
	Location string `json:"location"` // Where readers find it.
}

// locker is a store that one publisher at a time writes to.
type locker interface{ Lock() error }

// claim reads a destination's mark, or sets it where nothing is.
func claim(ctx context.Context, s store.Store, o Options) (mark, error) {
	if l, ok := s.(locker); ok {
		if err := vacant(ctx, s); err != nil {
			return mark{}, err // Before the lock makes anything.
		}
		if err := l.Lock(); err != nil {
			return mark{}, err
		}
	}
	want := mark{Program: program, Form: o.Form, Location: strings.TrimSuffix(o.Location, "/")}
	if want.Location == "" {
		want.Location = s.URI()
	}
	text, err := s.Read(ctx, markName)
	if errors.Is(err, store.ErrNone) {
		if err := vacant(ctx, s); err != nil {
			return mark{}, err
		}
		text, err = json.MarshalIndent(want, "", " ")
		if err != nil {
			return mark{}, err
		}
		return want, s.Create(ctx, markName, text)
	}
	if err != nil {
		return mark{}, err
	}
	var is mark
	if err := json.Unmarshal(text, &is); err != nil || is.Program != want.Program {
		return mark{}, fmt.Errorf("it holds a %s that is not ours: choose an empty place", markName)
	}
	if is.Form != want.Form {
		return mark{}, fmt.Errorf("it was published with --as %s: say so again, or choose an empty place", is.Form)
	}
	if is.Location != want.Location {
		return mark{}, fmt.Errorf("its files say that they are at %s, and not at %s: give --location %s, or choose an empty place", is.Location, want.Location, is.Location)
	}
	return is, nil
}

// vacant refuses a place that holds something and no mark.
func vacant(ctx context.Context, s store.Store) error {
	if _, err := s.Read(ctx, markName); err == nil || !errors.Is(err, store.ErrNone) {
		return err
	}
	for info, err := range s.List(ctx, "") {
		if err != nil {
			return err
		}
		return fmt.Errorf("it holds %q and no publication: choose an empty place", info.Name)
	}
	return nil
}

// apart refuses a folder inside the lake, or around it.
func apart(lake string, s store.Store) error {
	path, ok := strings.CutPrefix(s.URI(), "file://")
	if !ok {
		return nil
	}
	inner, err := real(filepath.FromSlash(path))
	if err != nil {
		return err
	}
	outer, err := real(lake)
	if err != nil {
		return err
	}
	for _, pair := range [][2]string{{inner, outer}, {outer, inner}} {
		if rel, err := filepath.Rel(pair[1], pair[0]); err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
			return fmt.Errorf("publish to %s: it and the lake at %s lie one in the other: choose a place apart", path, lake)
		}
	}
	return nil
}

// real resolves the links in a path as far as it exists.
func real(path string) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	rest := ""
	for at := abs; ; at = filepath.Dir(at) {
		if done, err := filepath.EvalSymlinks(at); err == nil {
			return filepath.Join(done, rest), nil
		} else if !errors.Is(err, os.ErrNotExist) || at == filepath.Dir(at) {
			return "", fmt.Errorf("look at %s: %w", path, err)
		}
		rest = filepath.Join(filepath.Base(at), rest)
	}
}
