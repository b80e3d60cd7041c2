package demo

import "context"

// Model is the invented world. The zero value is of no use: start from Default.
type Model struct {
	Seed  uint64
	Scale int     // Times that each visit is repeated; 1 is the demo, 133 a shop's year of 12,500 runs. Every ten repeats further vehicles come.
	Step  float64 // Of the integration, s.
}

// Default is the demo's model.
func Default() Model { return Model{Seed: 20250113, Scale: 1, Step: 0.003} }

// Scenario gives the truth of the demo, without writing anything. Files, folders and dialects are known to Write alone.
func Scenario() Truth { return Default().truth(Default().plans()) }

// truth drives the plans without noise, sensor or recorder.
func (m Model) truth(plans []plan) Truth {
	t := newTally(m)
	var rows []row
	for _, p := range plans {
		tr := m.run(p, true, rows)
		rows = tr.rows
		t.add(p, tr, RunTruth{})
	}
	return t.truth()
}

// Write makes the demo's folder and gives its truth. The same folder comes out each time, byte for byte.
func Write(ctx context.Context, dir string) (Truth, error) { return Default().Write(ctx, dir) }
