package packs

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"dynolake/queries/engine"
	"dynolake/schema"
)

// Unknown is a name in a parameter that nothing in the lake has.
type Unknown struct {
	Param, Value string
	Nearest      string   // The name that was perhaps meant; empty when none is close.
	Names        []string // Those there are, sorted.
}

// Error names what is unknown and what there is.
func (u *Unknown) Error() string {
	const most = 12
	hint := ""
	if u.Nearest != "" {
		hint = fmt.Sprintf(" (did you mean %q?)", u.Nearest)
	}
	list := "there is none"
	if n := len(u.Names); n > 0 {
		list = "there are " + strings.Join(u.Names[:min(n, most)], ", ")
		if n > most {
			list += fmt.Sprintf(" and %d more", n-most)
		}
	}
	return fmt.Sprintf("find %s %q: the lake has none of that name%s: %s", u.Param, u.Value, hint, list)
}

// Known holds the vehicle, platform and calibrations that parameters name against those in the lake: a vehicle or platform of its
// runs or of vehicles.yaml, a calibration that the vehicle or platform asked for was run with. The error is an *Unknown for a name
// that is not there. A lake without runs knows every name: its answers have no rows.
func (p *Pack) Known(ctx context.Context, s engine.Asker, params map[string]string) error {
	asked := p.named(params)
	if len(asked) == 0 {
		return nil
	}
	names, err := lakeNames(ctx, s, given(params, "vehicle"), given(params, "platform"))
	if err != nil || len(names["run"]) == 0 {
		return err
	}
	for _, kind := range []string{"vehicle", "platform", "calibration"} { // A wrong vehicle has no calibrations: it comes first.
		for _, param := range asked[kind] {
			value := given(params, param)
			if slices.Contains(names[kind], value) {
				continue
			}
			u := &Unknown{Param: param, Value: value, Names: names[kind]}
			u.Nearest = schema.Nearest(value, names[kind])
			return u
		}
	}
	return nil
}

// Names reports whether parameters name a vehicle, platform or calibration, which Known then looks for.
func (p *Pack) Names(params map[string]string) bool { return len(p.named(params)) > 0 }

// named lists by kind the parameters that name one of it.
func (p *Pack) named(params map[string]string) map[string][]string {
	kinds := map[string]string{"vehicle": "vehicle", "platform": "platform", "calibration": "calibration", "base": "calibration", "candidate": "calibration"}
	asked := map[string][]string{}
	for _, d := range p.Params {
		if kind := kinds[d.Name]; kind != "" && d.Type == "text" && given(params, d.Name) != "" {
			asked[kind] = append(asked[kind], d.Name)
		}
	}
	return asked
}

// given is a parameter's value; empty where nothing is asked for.
func given(params map[string]string, name string) string {
	value := unquote(strings.TrimSpace(params[name]))
	if strings.EqualFold(value, "null") {
		return ""
	}
	return value
}

// lakeNames lists the names there are by kind, and a run where there is one.
func lakeNames(ctx context.Context, s engine.Asker, vehicle, platform string) (map[string][]string, error) {
	const statement = `SELECT DISTINCT 'vehicle' AS kind, vehicle AS name FROM runs WHERE vehicle IS NOT NULL
UNION SELECT 'vehicle', vehicle FROM vehicles WHERE vehicle IS NOT NULL
UNION SELECT 'platform', platform FROM runs WHERE platform IS NOT NULL
UNION SELECT 'platform', platform FROM vehicles WHERE platform IS NOT NULL
UNION SELECT 'calibration', calibration FROM runs WHERE calibration IS NOT NULL AND ($vehicle = '' OR vehicle = $vehicle) AND ($platform = '' OR platform = $platform)
UNION SELECT 'run', min(run_id) FROM runs HAVING count(*) > 0
ORDER BY 1, 2`
	rows, err := s.Query(ctx, statement, sql.Named("vehicle", vehicle), sql.Named("platform", platform))
	if err != nil {
		return nil, fmt.Errorf("list the lake's names: %w", err)
	}
	all, err := rows.All()
	if err != nil {
		return nil, fmt.Errorf("list the lake's names: %w", err)
	}
	names := map[string][]string{}
	for _, r := range all {
		kind, _ := r[0].(string)
		name, _ := r[1].(string)
		names[kind] = append(names[kind], name)
	}
	return names, nil
}
