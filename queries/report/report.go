package report

import (
	"cmp"
	"context"
	"fmt"
	"io"

	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/queries/plot"
	"dynolake/queries/result"
	"dynolake/schema"
)

// Input is what a report is made of.
type Input struct {
	Session *engine.Session
	Kept    func(ctx context.Context, p *packs.Pack, statement string) (*result.Rows, bool) // The answer, where it need not be computed; nil: never.
	Packs   *packs.Set
	Limits  []schema.Limit
	Units   result.Units
	News    *News // Of the last refresh; nil where there was none.
}

// writer gathers what the page says.
type writer struct {
	in        Input
	options   plot.Options
	asked     map[string]*answer
	platforms []platform
	unnamed   int64
	pictures  int
}

func (w *writer) next() int { w.pictures++; return w.pictures }

// Write writes the report as HTML. An error of a single query is said in its section; the error returned is for a lake that
// cannot be read, a context that is done, or out.
func Write(ctx context.Context, out io.Writer, in Input) error {
	w := &writer{in: in, asked: map[string]*answer{}, options: plot.Options{Units: in.Units, Limits: in.Limits}}
	p, err := w.page(ctx)
	if err != nil {
		return err
	}
	if err := p.render(out); err != nil {
		return fmt.Errorf("write report: %w", err)
	}
	return nil
}

func (w *writer) page(ctx context.Context) (*page, error) {
	p := &page{US: w.in.Units == result.US, Light: plot.Light(), Dark: plot.Dark()}
	if err := w.options.Times(ctx, w.in.Session); err != nil {
		return nil, err
	}
	var err error
	if w.platforms, w.unnamed, err = w.park(ctx); err != nil {
		return nil, err
	}
	if err := w.facts(ctx, p); err != nil {
		return nil, err
	}
	p.News = w.news()
	if p.Runs == "" {
		return p, nil
	}
	if p.Side, err = w.side(ctx); err != nil {
		p.Faults = append(p.Faults, err.Error())
	}
	for _, pl := range w.platforms {
		c, err := w.card(ctx, pl)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil {
			p.Faults = append(p.Faults, err.Error())
		}
		p.Cards = append(p.Cards, c)
	}
	for _, t := range topics() {
		s, err := w.figures(ctx, t)
		if err != nil {
			return nil, err
		}
		p.Sections = append(p.Sections, s)
	}
	for _, make := range []func(context.Context) (section, error){w.limitTable, w.quality} {
		s, err := make(ctx)
		if err != nil {
			return nil, err
		}
		p.Sections = append(p.Sections, s)
	}
	return p, nil
}

// facts says how much the lake holds.
func (w *writer) facts(ctx context.Context, p *page) error {
	a, err := w.sql(ctx, `SELECT count(*) AS runs, count(DISTINCT vehicle) AS vehicles, count(DISTINCT platform) AS platforms, min(started_at) AS first_at, max(started_at) AS last_at,
		(SELECT count(*) FROM segments WHERE kind = 'pull') AS pulls FROM runs`)
	if err != nil {
		return err
	}
	r := a.rows[0]
	n := func(column string) int {
		x, _ := r.number(column)
		return int(x)
	}
	if n("runs") == 0 {
		return nil
	}
	p.Runs = fmt.Sprintf("%s with %s of %s on %s", plural(n("runs"), "run", "runs"), plural(n("pulls"), "pull", "pulls"),
		plural(n("vehicles"), "vehicle", "vehicles"), plural(n("platforms"), "platform", "platforms"))
	if r.has("first_at") {
		p.Runs += fmt.Sprintf(", from %s to %s (UTC)", r.text("first_at")[:10], r.text("last_at")[:10])
	}
	return nil
}

// maxNews is how many lines each kind of news gets.
const maxNews = 15

// news puts the refresh's news into words.
func (w *writer) news() *newsList {
	if w.in.News == nil {
		return nil
	}
	in := *w.in.News
	n := &newsList{None: in.none()}
	if !in.Since.IsZero() {
		n.Since = in.Since.UTC().Format("2006-01-02 15:04 UTC")
	} else if !n.None {
		n.First = fmt.Sprintf("The first refresh: all of it is new. %s, %s, %s passed, %s set aside.", plural(len(in.Runs), "run", "runs"),
			plural(len(in.Verdicts), "comparison", "comparisons"), plural(len(in.Passed), "limit", "limits"), plural(len(in.SetAside), "file", "files"))
		in.Runs, in.Verdicts, in.Passed = nil, nil, nil
	}
	for _, r := range in.Runs {
		at := "without a time"
		if !r.StartedAt.IsZero() {
			at = r.StartedAt.UTC().Format("2006-01-02 15:04")
		}
		n.Runs = append(n.Runs, fmt.Sprintf("%s, %s, %s, %s (run %s)", orUnnamed(r.Vehicle), named(r.Calibration), r.Test, at, r.ID))
	}
	for _, v := range in.Verdicts {
		was := ""
		if v.Was != "" {
			was = fmt.Sprintf(" (before: %s)", v.Was)
		}
		n.Verdicts = append(n.Verdicts, fmt.Sprintf("%s, %s of %s over %s: %s%s", orUnnamed(v.Vehicle), cmp.Or(v.Quantity, "torque"), named(v.Candidate), named(v.Base), v.Is, was))
	}
	for _, l := range in.Passed {
		text := fmt.Sprintf("%s, %s: %s reached %s, beyond its limit of %s", orUnnamed(l.Vehicle), named(l.Calibration), word(l.Quantity), w.measured(l.Quantity, l.Worst), w.measured(l.Quantity, l.Bound))
		if l.PowerKW > 0 {
			text += " at " + w.measured("wheel_power_kw", l.PowerKW)
		}
		n.Passed = append(n.Passed, text)
	}
	for _, a := range in.SetAside {
		n.Aside = append(n.Aside, result.Harmless(a.Source)+": "+result.Harmless(a.Reason))
	}
	for _, list := range []*[]string{&n.Runs, &n.Verdicts, &n.Passed, &n.Aside} {
		for i, s := range *list {
			(*list)[i] = result.Harmless(s) + "."
		}
		if more := len(*list) - maxNews; more > 0 {
			*list = append((*list)[:maxNews:maxNews], fmt.Sprintf("And %d more.", more))
		}
	}
	return n
}

func orUnnamed(vehicle string) string { return cmp.Or(vehicle, "not named") }
