package dialect

// A statement as it is read. Places are bytes in the statement.

// query is a SELECT, or several joined by UNION, with what stands before and behind them.
type query struct {
	with          []common
	first         *selection
	rest          []joined
	order         []sorting
	limit, offset expr
	at            int
}

// common is one `name AS (query)` of a WITH.
type common struct {
	name  string
	names []string // Of its columns, where given.
	query *query
	at    int
}

// joined is what follows UNION, UNION ALL, EXCEPT or INTERSECT.
type joined struct {
	operator string
	part     *selection
	at       int
}

// selection is one SELECT, or a query in parentheses.
type selection struct {
	nested   *query
	distinct bool
	on       []expr // DISTINCT ON.
	items    []item
	from     source // Nil without FROM.
	where    expr
	group    []expr
	groupAll bool
	having   expr
	windows  map[string]*window
	qualify  expr
	at       int
}

// item is an expression of a SELECT with its name.
type item struct {
	value expr
	name  string
	named bool // By the statement; else the name is the expression as written.
}

// source is what stands in FROM.
type source interface{}

type table struct {
	name, alias string
	names       []string // Of its columns, where given.
	at          int
}

type derived struct {
	query *query
	alias string
	names []string
	at    int
}

type join struct {
	kind        string // INNER, LEFT, RIGHT, FULL, CROSS.
	left, right source
	on          expr
	using       []string
	at          int
}

// sorting is one term of ORDER BY.
type sorting struct {
	value expr
	desc  bool
	nulls string // FIRST or LAST; empty: LAST.
}

// window is what stands behind OVER, or a name for it.
type window struct {
	base      string
	partition []expr
	order     []sorting
	frame     string // As written.
}

// expr is any of the following.
type expr interface{}

type literal struct {
	kind Base
	text string
	at   int
}

type column struct {
	table, name string
	at          int
}

type star struct {
	table   string
	exclude []string
	at      int
}

type call struct {
	name     string
	args     []expr
	star     bool // count(*).
	distinct bool
	order    []sorting
	filter   expr
	over     *window
	nulls    string // IGNORE NULLS or RESPECT NULLS.
	at       int
}

type cast struct {
	value expr
	to    Type
	try   bool
	at    int
}

type unary struct {
	operator string // "-", "+", NOT.
	value    expr
	at       int
}

type binary struct {
	operator    string // In capitals where a word.
	left, right expr
	at          int
}

type null struct { // IS NULL, IS NOT NULL.
	value expr
	not   bool
}

type between struct {
	value, low, high expr
	not              bool
	at               int
}

type in struct {
	value expr
	list  []expr
	query *query
	not   bool
	at    int
}

type choice struct { // CASE.
	operand   expr
	when      [][2]expr
	otherwise expr
	at        int
}

type list struct {
	items []expr
	at    int
}

type element struct { // value[index].
	value, index expr
	at           int
}

type scalar struct { // A query that stands for a value, or for EXISTS.
	query  *query
	exists bool
	at     int
}

type lambda struct {
	names []string
	body  expr
	at    int
}
