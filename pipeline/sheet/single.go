package sheet

import (
	"dynolake/pipeline/config/entry"
)

// readSingle reads a NAME.run.yaml: one entry. The error is one that leaves it unusable.
func readSingle(path, text string) (*row, error) {
	root, err := entry.Parse(path, []byte(text))
	if err != nil {
		return nil, err
	}
	if root.Kind != entry.Map && root.Kind != entry.Null {
		return nil, root.At.Errorf("", "found no fields: want lines such as vehicle: van-1")
	}
	var cells []cell
	var faults []error
	seen := map[string]string{}
	for _, f := range root.Fields {
		c := cell{name: f.Name, at: f.Value.At}
		c.field, c.unit = heading(f.Name)
		if before, ok := seen[c.field]; ok && c.field != "" {
			faults = append(faults, f.At.Errorf(c.field, "found %q beside %q, which both mean %s: want one", f.Name, before, c.field))
			continue
		}
		seen[c.field] = f.Name
		if f.Value.Kind == entry.Null {
			continue
		}
		texts, err := flatten(f.Value, c.field)
		if err != nil {
			faults = append(faults, err)
		}
		c.texts = texts
		cells = append(cells, c)
	}
	out := makeRow(root.At, cells)
	out.faults = append(out.faults, faults...)
	_, named := seen["files"]
	out.implicit = len(out.sheet.Files) == 0 && !named
	if named && len(out.sheet.Files) == 0 {
		f, _ := root.Field(seen["files"])
		out.faults = append(out.faults, f.At.Errorf("files", "found no file: want a list of names, or no files at all to mean the log beside"))
	}
	return out, nil
}

// flatten gives a value's texts. Only files and what goes into the note may have several.
func flatten(v entry.Value, field string) ([]string, error) {
	switch {
	case v.Kind == entry.Scalar && field == "files":
		return names(v.Text), nil
	case v.Kind == entry.Scalar:
		return []string{v.Text}, nil
	case v.Kind == entry.List && (field == "files" || field == "note" || field == ""):
		var texts []string
		for _, item := range v.Items {
			if item.Kind != entry.Scalar {
				return texts, item.At.Errorf(field, "found no text: want a list of texts")
			}
			texts = append(texts, item.Text)
		}
		return texts, nil
	case v.Kind == entry.Map && field == "":
		var texts []string
		for _, f := range v.Fields {
			texts = append(texts, f.Name+" "+f.Value.Text)
		}
		return texts, nil
	}
	return nil, v.At.Errorf(field, "found several values: want one")
}
