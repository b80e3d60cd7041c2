package mapping

import (
	"fmt"

	"dynolake/schema"
)

// vanes turns a vane position whose header says that 100 is open, so that 100 is closed as stored. A header that says neither
// is taken as it is, and that is told.
func vanes(c *schema.Claim, direction, source, name string) {
	switch direction {
	case "open":
		c.Scale, c.Offset = -c.Scale, 100-c.Offset
		c.Why += ", turned so that 100 is closed"
		c.Guesses = append(c.Guesses, find(source, schema.Note, "vane_inverted", name, "the header says that it counts opening: stored as 100 less the logged value, 100 being closed", 100, "%"))
	case "":
		c.Guesses = append(c.Guesses, find(source, schema.Note, "vane_direction_assumed", name,
			fmt.Sprintf("%q does not say which end is 100 %%: taken as closed; add a mapping with factor: -1 and offset: 100 if it is open", name), 100, "%"))
	}
}
