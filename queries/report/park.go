package report

import (
	"context"
	"strings"
)

// tested is a vehicle with its calibrations, the one that was first run last at the end.
type tested struct {
	vehicle      string
	calibrations []string
}

// latest is the calibration that was first run last, and the one before it, empty where there is none.
func (t tested) latest() (latest, before string) {
	n := len(t.calibrations)
	latest = t.calibrations[n-1]
	if n > 1 {
		before = t.calibrations[n-2]
	}
	return latest, before
}

// platform is what the lake holds of one.
type platform struct {
	name, duty string
	vehicles   []tested
	runs       int64
}

// park lists platforms with their vehicles. Runs of no named vehicle are counted in unnamed.
func (w *writer) park(ctx context.Context) (list []platform, unnamed int64, err error) {
	a, err := w.sql(ctx, `SELECT platform, coalesce(max(duty) OVER (PARTITION BY platform), '') AS duty, vehicle, calibration, runs FROM (
		SELECT platform, max(duty) AS duty, vehicle, calibration, count(*) AS runs, min(started_at) AS first_at, max(started_at) AS last_at
		FROM runs GROUP BY platform, vehicle, calibration) t
		ORDER BY platform, max(last_at) OVER (PARTITION BY platform, vehicle) DESC NULLS LAST, vehicle, first_at NULLS FIRST, calibration`)
	if err != nil {
		return nil, 0, err
	}
	for _, r := range a.rows {
		n, _ := r.value("runs").(int64)
		if !r.has("platform") || !r.has("vehicle") {
			unnamed += n
			continue
		}
		if len(list) == 0 || list[len(list)-1].name != r.text("platform") {
			list = append(list, platform{name: r.text("platform"), duty: r.text("duty")})
		}
		p := &list[len(list)-1]
		p.runs += n
		if k := len(p.vehicles); k == 0 || p.vehicles[k-1].vehicle != r.text("vehicle") {
			p.vehicles = append(p.vehicles, tested{vehicle: r.text("vehicle")})
		}
		v := &p.vehicles[len(p.vehicles)-1]
		v.calibrations = append(v.calibrations, r.text("calibration"))
	}
	return list, unnamed, nil
}

// named says a calibration, or that there is no name.
func named(calibration string) string {
	if calibration == "" {
		return "the unnamed calibration"
	}
	return calibration
}

// and joins words as a sentence does.
func and(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
}
