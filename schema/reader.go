package schema

import "context"

// Fit is how well a reader recognises the beginning of a file.
type Fit struct {
	Score int    // 0: not this form; 100: a binary magic or a proof; text forms stay below 90.
	Why   string // What was looked for and what was found, for people: `a header row with a time channel: "Time[s]"`.
}

// Reader reads one form of log. It interprets nothing: names and units stay as written, times become seconds.
type Reader interface {
	// Form is the form's short name, as stored in the sources view: "delimited".
	Form() string
	// Probe looks at up to the first 64 KiB.
	Probe(head []byte) Fit
	// Read streams the source into the sink. Memory does not grow with the source's size. Damage that leaves good rows is a
	// finding; an error means that nothing of the source can be used, and says what was looked for and what was found.
	Read(ctx context.Context, src Source, sink Sink) error
}

// Random is a reader or container that reads its source in any order. It calls Source.OpenAt, and is handed sources that need
// not be held in memory for it.
type Random interface {
	Random()
}

// Container is a form that holds other sources: the sheets of a workbook, the members of an archive.
type Container interface {
	// Form is the form's short name: "workbook", "zip".
	Form() string
	// Probe looks at up to the first 64 KiB.
	Probe(head []byte) Fit
	// Members lists what the source holds, in order, each to be opened by itself and named as a.zip/b.csv or book.xlsx#Sheet. What
	// was left out (a hidden sheet, a link) is a finding. An error means that nothing of the source can be used.
	Members(ctx context.Context, src Source) ([]Source, []Finding, error)
}

// Claim says which column a channel is to become, and why. A channel without a column stays unmapped.
type Claim struct {
	Log, Series, Channel int // Indices of the channel: logs[Log].Series[Series].Channels[Channel].

	Column     string             // Empty: not understood.
	Scale      float64            // stored = logged*Scale + Offset.
	Offset     float64            //
	AddBaro    bool               // Logged as gauge, stored as absolute: barometric is added row by row.
	TakeBaro   bool               // Logged as absolute, stored as gauge: barometric is taken off row by row.
	States     map[string]float64 // A state's texts and their values.
	Confidence float64            // 0 to 1, to choose between two claims on one column.
	Lost       bool               // Another channel holds the column; this one stays in unmapped.
	Why        string             // The evidence, for people.

	Unit      string    // The unit that the logged numbers are taken to be in, as units.yaml names it; empty when none is known.
	Reference Reference // What the header, its unit or a mapping says of the zero; empty when they say nothing.
	Rule      string    // file:line:column of the user's mapping that made the claim; empty when none did.
	Zero      *ZeroAsk  // What the mapping asks to be taken off a pressure; nil for nothing.
	Guesses   []Finding // What was guessed or left open while the name was read.
}

// ZeroAsk is what is to be taken off a pressure: a stated figure, or what it reads with the engine stopped.
type ZeroAsk struct {
	KeyOn bool
	KPa   float64 // Where not KeyOn.
}

// Snapshot is one consistent state of the lake, as readers see it: the live files of each table, relative to Root.
type Snapshot struct {
	ID    int64
	Root  string
	Files map[string][]string // By table: samples, segments, curves, runs, sources, unmapped, findings.
}
