// Package iceberg writes the lake's tables as Apache Iceberg tables, format version 2, over a store.
//
// # Terms
//
// A table is a folder with data/month=YYYY-MM/*.parquet, the lake's files as they are, and metadata/: vN.metadata.json, one a
// commit, with the manifest lists and manifests that it stands on, and version-hint.text, which names the newest. Layout and
// meaning follow the Iceberg table specification (iceberg.apache.org/spec).
//
// # Invariants
//
// Field ids are the lake's, the partition column's apart (MonthID). month is in no file: its value is the partition's, as the
// specification has it for identity transforms. A snapshot's id is that of the lake's snapshot. Nothing that a snapshot names
// is changed; what no kept snapshot names is removed once it is older than the time that snapshots are kept.
//
// A commit is the creation of the next vN.metadata.json, which succeeds for one writer alone; all that it names is stored
// before it, and the hint is moved after it. Readers begin at the hint and look for a newer one, or take the hint as it is:
// either way they see one commit whole.
//
// # What a failure leaves behind
//
// The old commit or the new one, and perhaps files that no commit names, which a later commit sweeps. Readers of a snapshot that was superseded longer ago than the kept time may
// find its files gone: they fail, and see nothing wrong.
package iceberg
