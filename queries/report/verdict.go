package report

import (
	"context"
	"fmt"
	"math"
	"slices"

	"dynolake/schema"
)

// gain tells of each vehicle whether its latest calibration gained torque over the one before.
func (w *writer) gain(ctx context.Context, p platform) (point, error) {
	pt := point{Head: "Did the last change gain torque?"}
	var failed error
	each(&pt, p, func(v tested) (string, bool) {
		latest, before := v.latest()
		if len(v.calibrations) < 2 || failed != nil || latest == "" || before == "" {
			return "", false
		}
		a, err := w.ask(ctx, "torque/delta", "base", before, "candidate", latest, "platform", p.name)
		if err != nil {
			failed = err
		}
		rows := a.of("vehicle", v.vehicle)
		if len(rows) == 0 {
			return "", false
		}
		if pt.Command == "" {
			pt.Command = a.command
		}
		return weigh(rows, before, latest)
	})
	return pt, failed
}

// weigh sums up a comparison, a row a bin of engine speed.
func weigh(rows []row, base, candidate string) (text string, lost bool) {
	count := map[string]int{}
	var best, worst row
	highest, lowest := math.Inf(-1), math.Inf(1)
	for _, r := range rows {
		count[r.text("verdict")]++
		x, ok := r.number("delta_nm")
		if !ok || !r.has("lo95") {
			continue
		}
		if x > highest {
			highest, best = x, r
		}
		if x < lowest {
			lowest, worst = x, r
		}
	}
	if math.IsInf(highest, -1) {
		return fmt.Sprintf("%s against %s: too few pulls to tell.", candidate, base), false
	}
	span := func(r row) string {
		return fmt.Sprintf("%s%s at %s, 95 %% interval %s to %s", sign(r, "delta_nm"), r.shown("delta_nm"), r.shown("engine_speed_rpm"), r.bare("lo95"), r.bare("hi95"))
	}
	gains, losses := count["gain"], count["loss"]
	verdict := rows[0].text("verdict_all")
	if verdict == "" {
		verdict = pointwise(gains, losses)
	}
	bins := fmt.Sprintf("%d of %s show a gain and %d a loss", gains, plural(len(rows), "speed bin", "speed bins"), losses)
	whole := ""
	if rows[0].has("delta_all_nm") {
		whole = fmt.Sprintf(" by %s%s over the curve", sign(rows[0], "delta_all_nm"), rows[0].shown("delta_all_nm"))
	}
	switch verdict {
	case "gain":
		return fmt.Sprintf("Gain shown: %s over %s%s; most %s; %s.", candidate, base, whole, span(best), bins), false
	case "loss":
		return fmt.Sprintf("Loss shown: %s against %s%s; most %s; %s.", candidate, base, whole, span(worst), bins), true
	}
	return fmt.Sprintf("No difference shown between %s and %s%s; largest %s; %s.", base, candidate, whole, span(best), bins), false
}

// pointwise is the verdict of the bins together, where the query gives none of the whole.
func pointwise(gains, losses int) string {
	switch {
	case gains > losses:
		return "gain"
	case losses > gains:
		return "loss"
	}
	return "no difference shown"
}

func sign(r row, column string) string {
	if x, ok := r.number(column); ok && x > 0 {
		return "+"
	}
	return ""
}

// air tells of each vehicle the first limit that it meets as power rises.
func (w *writer) air(ctx context.Context, p platform) (point, error) {
	a, err := w.limits(ctx, "platform", p.name)
	if a == nil || err != nil {
		return point{}, err
	}
	pt := point{Head: "When does it run out of air? The first limit met as power rises", Command: a.command}
	each(&pt, p, func(v tested) (string, bool) {
		latest, _ := v.latest()
		rows := slices.DeleteFunc(slices.Clone(a.of("vehicle", v.vehicle, "calibration", latest)), func(r row) bool { return !r.has("expected_power_kw") })
		if len(rows) == 0 {
			if all := a.of("vehicle", v.vehicle, "calibration", latest); len(all) > 0 {
				return fmt.Sprintf("%s meets none of %s within reach.", named(latest), plural(len(all), "limit", "limits")), false
			}
			return "", false
		}
		first := slices.MinFunc(rows, func(a, b row) int { return compare(a, b, "expected_power_kw") })
		text := fmt.Sprintf("%s meets the %s limit of %s at %s", named(latest), word(first.text("quantity")), w.stored(first, "bound"), first.shown("expected_power_kw"))
		if first.has("lo95") && first.has("hi95") {
			text += fmt.Sprintf(" (95 %% %s to %s)", first.bare("lo95"), first.bare("hi95"))
		}
		text += ", " + first.text("basis")
		var next []string
		for _, r := range rows {
			if r.text("quantity") != first.text("quantity") && len(next) < 2 {
				next = append(next, fmt.Sprintf("%s at %s (%s)", word(r.text("quantity")), r.shown("expected_power_kw"), r.text("basis")))
			}
		}
		if len(next) > 0 {
			text += "; then " + and(next)
		}
		return text + ".", first.text("basis") == "measured"
	})
	return pt, nil
}

func compare(a, b row, column string) int {
	x, _ := a.number(column)
	y, _ := b.number(column)
	switch {
	case x < y:
		return -1
	case x > y:
		return 1
	}
	return 0
}

// richness tells how low λ goes and at which power.
func (w *writer) richness(ctx context.Context, p platform) (point, error) {
	a, err := w.ask(ctx, "air/lambda", "platform", p.name)
	if a == nil || err != nil {
		return point{}, err
	}
	pt := point{Head: "λ, air over what the fuel needs", Command: a.command}
	each(&pt, p, func(v tested) (string, bool) {
		latest, _ := v.latest()
		rows := slices.DeleteFunc(slices.Clone(a.of("vehicle", v.vehicle, "calibration", latest)), func(r row) bool { return !r.has("lambda_median") })
		if len(rows) == 0 {
			return "", false
		}
		low := slices.MinFunc(rows, func(a, b row) int { return compare(a, b, "lambda_median") })
		last := rows[len(rows)-1]
		text := fmt.Sprintf("%s is lowest at %s: median λ %s, a twentieth of it below %s", named(latest), low.shown("wheel_power_kw"), low.bare("lambda_median"), low.bare("lambda_p05"))
		if low.text("wheel_power_kw") != last.text("wheel_power_kw") {
			text += fmt.Sprintf("; at %s it is %s", last.shown("wheel_power_kw"), last.bare("lambda_median"))
		}
		below, _ := low.number("below_limit_frac")
		if below > 0 {
			text += fmt.Sprintf("; %s lies below the limit there", percent(below))
		}
		return text + ".", below > 0.05
	})
	return pt, nil
}

// bound is the upper limit of a column that holds for a vehicle.
func (w *writer) bound(column, vehicle string, p platform, test string) (float64, bool) {
	l, ok := schema.LimitFor(w.in.Limits, column, vehicle, p.name, p.duty, test)
	return l.Max, ok && !math.IsNaN(l.Max)
}
