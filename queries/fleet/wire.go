package fleet

import (
	"context"
	"io"
)

// form is how answers come from every engine: text, its first two lines the names and the types of the columns. Servers of any
// age write it, and floats in it are as exact as in binary.
const form = "TabSeparatedWithNamesAndTypes"

// wire is one connection to an engine: it keeps settings, temporary tables and views from one statement to the next, and runs
// one at a time. Ending the context stops the statement in the engine; the error is then the context's cause.
type wire interface {
	// run executes a statement without an answer.
	run(ctx context.Context, statement string) error
	// ask executes a SELECT. Its answer is read before the next statement, and closed.
	ask(ctx context.Context, statement string) (io.ReadCloser, error)
	// close ends the connection and drops what was made in it by the statements given.
	close(ctx context.Context, drop []string) error
}
