package fleet

import (
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"dynolake/queries/engine"
	"dynolake/schema"
)

// Bucket says how an engine reaches a publication in a bucket.
type Bucket struct {
	Endpoint          string // http://host:port or https://host.
	ID, Secret, Token string
}

// place is a publication as an engine's statements name it.
type place struct {
	snap   schema.Snapshot
	bucket Bucket
	folder string            // Empty for a bucket.
	prefix string            // Bucket and prefix.
	given  map[string]string // By view, for tables that are given: the SELECT itself.
}

func newPlace(snap schema.Snapshot, b Bucket) (place, error) {
	p := place{snap: snap, bucket: b}
	if strings.ContainsAny(snap.Root, "{},*?\n\\'") {
		return p, fmt.Errorf("read the publication %q: the engine takes {}, commas, *, ?, \\ and ' in names for patterns: publish to a place without them", snap.Root)
	}
	rest, ok := strings.CutPrefix(snap.Root, "s3://")
	if !ok {
		abs, err := filepath.Abs(strings.TrimPrefix(snap.Root, "file://"))
		p.folder = abs
		return p, err
	}
	if b.Endpoint == "" {
		return p, errors.New("read the publication: it is in a bucket, and no endpoint is known")
	}
	p.prefix = strings.TrimSuffix(b.Endpoint, "/") + (&url.URL{Path: "/" + strings.Trim(rest, "/")}).EscapedPath()
	return p, nil
}

// view is the SELECT that a view stands for.
func (p place) view(name string) string {
	if p.given != nil {
		return p.given[name]
	}
	columns := engine.Views()[name]
	stated := !tabled(name)
	names, types := make([]string, len(columns)), make([]string, len(columns))
	for i, c := range columns {
		names[i] = ident(c.Name)
		types[i] = ident(c.Name) + " " + typeOf(c.Type)
		if list, ok := strings.CutSuffix(c.Type, "[]"); ok && stated { // Lists are kept as JSON in what is stated.
			types[i] = ident(c.Name) + " Nullable(String)"
			names[i] = "JSONExtract(ifNull(" + ident(c.Name) + ", '[]'), 'Array(" + typeOf(list) + ")') AS " + ident(c.Name)
		}
	}
	if t, ok := schema.LookupTable(name); ok {
		return p.table(t, names, types)
	}
	return "SELECT " + strings.Join(names, ", ") + " FROM " + p.source(name, types)
}

// table is a view of a table of the lake; lists are unfolded to a row a value, the shorter one filled up with NULL.
func (p place) table(t schema.Table, names, types []string) string {
	var lengths, lists []string
	for i, c := range t.Columns {
		name := ident(c.Name)
		if strings.HasPrefix(c.Type, "list_") {
			types[i] = name + " Array(" + strings.TrimPrefix(types[i], name+" ") + ")"
			names[i] = ident(c.Name+"_") + " AS " + name
			lengths = append(lengths, "length("+name+")")
			lists = append(lists, "arrayResize("+name+", longest_, NULL) AS "+ident(c.Name+"_"))
		}
	}
	from := p.source(t.Name, types)
	if lists != nil {
		from = "(SELECT *, greatest(" + strings.Join(lengths, ", ") + ") AS longest_ FROM " + from + ") ARRAY JOIN " + strings.Join(lists, ", ")
	}
	return "SELECT " + strings.Join(names, ", ") + " FROM " + from
}

// source is what a view's rows come from: the files that the manifest names, with the columns as they are to be.
func (p place) source(name string, types []string) string {
	structure := text(strings.Join(types, ", "))
	files := p.snap.Files[name]
	if len(files) == 0 {
		return "null(" + structure + ")"
	}
	list := files[0]
	if len(files) > 1 {
		list = "{" + strings.Join(files, ",") + "}"
	}
	if p.folder != "" {
		return "file(" + text(p.folder+"/"+list) + ", 'Parquet', " + structure + ")"
	}
	keys := text(p.bucket.ID) + ", " + text(p.bucket.Secret) + ", "
	if p.bucket.Token != "" {
		keys += text(p.bucket.Token) + ", "
	}
	return "s3(" + text(p.prefix+"/"+list) + ", " + keys + "'Parquet', " + structure + ")"
}

// whole reports a file that is gone: the engine would leave it out and say nothing.
func (p place) whole(views []string) error {
	if p.folder == "" {
		return nil // In a bucket files are asked for by name, and one that is missing is an error.
	}
	for _, v := range views {
		for _, f := range p.snap.Files[v] {
			if _, err := os.Stat(filepath.Join(p.folder, filepath.FromSlash(f))); err != nil {
				return fmt.Errorf("read the publication: %s is gone: it was published anew meanwhile, or is damaged: ask again: %w", f, err)
			}
		}
	}
	return nil
}

func tabled(view string) bool {
	return slices.ContainsFunc(schema.Tables(), func(t schema.Table) bool { return t.Name == view })
}

// typeOf gives the engine's type for one of a view.
func typeOf(sql string) string {
	switch sql {
	case "FLOAT":
		return "Nullable(Float32)"
	case "DOUBLE":
		return "Nullable(Float64)"
	case "INTEGER":
		return "Nullable(Int32)"
	case "BIGINT":
		return "Nullable(Int64)"
	case "BOOLEAN":
		return "Nullable(Bool)"
	case "TIMESTAMP WITH TIME ZONE":
		return "Nullable(DateTime64(6, 'UTC'))"
	}
	return "Nullable(String)"
}

// ident quotes a name, text a string, as the engine has them.
func ident(name string) string { return "`" + name + "`" }

func text(s string) string {
	return "'" + strings.NewReplacer(`\`, `\\`, "'", `\'`).Replace(s) + "'"
}
