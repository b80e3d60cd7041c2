package iceberg

import (
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"dynolake/schema"
)

// metadata is a table's metadata file, version 2 of the format.
type metadata struct {
	Format         int               `json:"format-version"`
	UUID           string            `json:"table-uuid"`
	Location       string            `json:"location"`
	LastSequence   int64             `json:"last-sequence-number"`
	LastUpdated    int64             `json:"last-updated-ms"`
	LastColumn     int               `json:"last-column-id"`
	CurrentSchema  int               `json:"current-schema-id"`
	Schemas        []json.RawMessage `json:"schemas"`
	DefaultSpec    int               `json:"default-spec-id"`
	Specs          []json.RawMessage `json:"partition-specs"`
	LastPartition  int               `json:"last-partition-id"`
	Properties     map[string]string `json:"properties"`
	Current        *int64            `json:"current-snapshot-id,omitempty"`
	Snapshots      []snapshot        `json:"snapshots"`
	SnapshotLog    []snapshotEntry   `json:"snapshot-log"`
	MetadataLog    []metadataEntry   `json:"metadata-log"`
	SortOrders     []sortOrder       `json:"sort-orders"`
	DefaultOrder   int               `json:"default-sort-order-id"`
	Refs           map[string]ref    `json:"refs"`
	Statistics     []json.RawMessage `json:"statistics,omitempty"`
	PartitionStats []json.RawMessage `json:"partition-statistics,omitempty"`
}

type snapshot struct {
	ID       int64             `json:"snapshot-id"`
	Parent   *int64            `json:"parent-snapshot-id,omitempty"`
	Sequence int64             `json:"sequence-number"`
	At       int64             `json:"timestamp-ms"`
	List     string            `json:"manifest-list"`
	Summary  map[string]string `json:"summary"`
	Schema   int               `json:"schema-id"`
}

type snapshotEntry struct {
	At int64 `json:"timestamp-ms"`
	ID int64 `json:"snapshot-id"`
}

type metadataEntry struct {
	At   int64  `json:"timestamp-ms"`
	File string `json:"metadata-file"`
}

type sortOrder struct {
	ID     int         `json:"order-id"`
	Fields []sortField `json:"fields"`
}

type sortField struct {
	Transform string `json:"transform"`
	Source    int    `json:"source-id"`
	Direction string `json:"direction"`
	Nulls     string `json:"null-order"`
}

type ref struct {
	ID   int64  `json:"snapshot-id"`
	Type string `json:"type"`
}

// begin makes the metadata of a table that is not there yet.
func begin(location string, t schema.Table) (*metadata, error) {
	spec, err := json.Marshal(byMonth())
	if err != nil {
		return nil, err
	}
	m := &metadata{Format: 2, UUID: uuid.NewString(), Location: location, Specs: []json.RawMessage{spec}, LastPartition: partitionID, CurrentSchema: -1,
		Properties: map[string]string{"write.format.default": "parquet", "write.parquet.compression-codec": "zstd", "comment": t.Meaning},
		Snapshots:  []snapshot{}, SnapshotLog: []snapshotEntry{}, MetadataLog: []metadataEntry{}, Refs: map[string]ref{}, SortOrders: order(t)}
	m.DefaultOrder = m.SortOrders[len(m.SortOrders)-1].ID
	_, err = m.adopt(t)
	return m, err
}

// current is the newest snapshot, nil where none was ever published.
func (m *metadata) current() *snapshot {
	for i, s := range m.Snapshots {
		if m.Current != nil && s.ID == *m.Current {
			return &m.Snapshots[i]
		}
	}
	return nil
}

// push makes a snapshot the current one.
func (m *metadata) push(s snapshot) {
	m.Snapshots = append(m.Snapshots, s)
	m.SnapshotLog = append(m.SnapshotLog, snapshotEntry{At: s.At, ID: s.ID})
	m.Current, m.LastSequence = &s.ID, s.Sequence
	m.Refs["main"] = ref{ID: s.ID, Type: "branch"}
}

// expire drops the snapshots and metadata files that were superseded before a moment.
func (m *metadata) expire(before time.Time) {
	limit := before.UnixMilli()
	var kept []snapshot
	gone := map[int64]bool{}
	for i, s := range m.Snapshots {
		if i+1 < len(m.Snapshots) && m.Snapshots[i+1].At < limit {
			gone[s.ID] = true
			continue
		}
		kept = append(kept, s)
	}
	if len(gone) > 0 {
		m.Snapshots = kept
	}
	log := []snapshotEntry{}
	for _, e := range m.SnapshotLog {
		if !gone[e.ID] {
			log = append(log, e)
		}
	}
	m.SnapshotLog = log
	files := []metadataEntry{}
	for i, e := range m.MetadataLog {
		if i+1 == len(m.MetadataLog) || m.MetadataLog[i+1].At >= limit {
			files = append(files, e)
		}
	}
	m.MetadataLog = files
}
