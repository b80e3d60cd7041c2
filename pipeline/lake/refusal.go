package lake

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"path"
	"slices"
	"strings"

	"dynolake/schema"
)

// Refusal is what is to be said of source bytes that became no run. The same bytes are recorded once, under whatever name
// they come again; other findings on them replace the earlier ones, and a run made of them removes them.
type Refusal struct {
	SHA256   string
	Findings []schema.Finding
}

// said is what a finding says, whenever and of whatever name the source has.
func said(f schema.Finding) string {
	text := f.Text
	if f.Source != "" {
		text = strings.ReplaceAll(strings.ReplaceAll(text, f.Source, "~"), path.Base(f.Source), "~")
	}
	return fmt.Sprintf("%q %q %q %q %v %q %v %v", f.Severity, f.Code, f.Channel, text, f.Value, f.Unit, f.T0S, f.T1S)
}

// digest tells whether two refusals say the same.
func (r Refusal) digest() string {
	sum := sha256.New()
	for _, f := range r.Findings {
		sum.Write([]byte(said(f) + "\n"))
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// source is the name that the bytes came under.
func (r Refusal) source() string {
	if len(r.Findings) == 0 {
		return ""
	}
	return r.Findings[0].Source
}

// mergeRefusals puts what is said of the same bytes together, each thing once, in the order of their SHA-256.
func mergeRefusals(loose []Refusal) []Refusal {
	loose = slices.Clone(loose)
	slices.SortStableFunc(loose, func(a, b Refusal) int { return cmp.Compare(a.source(), b.source()) })
	merged, heard := map[string][]schema.Finding{}, map[string]bool{}
	for _, r := range loose {
		merged[r.SHA256] = slices.Clip(merged[r.SHA256])
		for _, f := range r.Findings {
			if key := r.SHA256 + said(f); !heard[key] {
				heard[key] = true
				merged[r.SHA256] = append(merged[r.SHA256], f)
			}
		}
	}
	var list []Refusal
	for _, sha := range slices.Sorted(maps.Keys(merged)) {
		list = append(list, Refusal{SHA256: sha, Findings: merged[sha]})
	}
	return list
}
