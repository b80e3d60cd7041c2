package lake

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"

	"dynolake/schema"
)

// Contents gives by table what stands for its rows: it is the same as long as they are, in whichever files they lie. Merging files
// changes none of it; a run that is stored, made again or taken out changes that of every table, a refusal that of findings. What
// the fingerprints of runs do not tell, that one is stored anew under the one it had, stands under "".
func (l *Lake) Contents(ctx context.Context) (map[string]string, error) {
	runs, err := l.digest(ctx, `SELECT run_id, fingerprint FROM runs UNION ALL SELECT key, value FROM meta WHERE key = 'rewritten' ORDER BY 1`)
	if err != nil {
		return nil, err
	}
	refused, err := l.digest(ctx, `SELECT sha256, digest FROM refusals ORDER BY sha256`)
	if err != nil {
		return nil, err
	}
	anew, err := l.digest(ctx, `SELECT key, value FROM meta WHERE key = 'rewritten'`)
	if err != nil {
		return nil, err
	}
	marks := map[string]string{"": anew}
	for _, t := range schema.Tables() {
		marks[t.Name] = runs
	}
	marks["findings"] += refused
	return marks, nil
}

// digest stands for the pairs of texts that a statement gives.
func (l *Lake) digest(ctx context.Context, statement string) (string, error) {
	h := sha256.New()
	err := query(ctx, l.db, func(r *sql.Rows) error {
		var key, value string
		if err := r.Scan(&key, &value); err != nil {
			return err
		}
		_, err := fmt.Fprintln(h, key, value)
		return err
	}, statement)
	return hex.EncodeToString(h.Sum(nil)[:16]), err
}
