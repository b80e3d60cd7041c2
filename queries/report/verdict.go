package report

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"dynolake/schema"
)

// gain tells of each vehicle whether its latest calibration gained torque over the one before.
func (w *writer) gain(ctx context.Context, p platform) (point, error) {
	a, err := w.askOf(ctx, p.name, "torque/delta")
	if a == nil || err != nil {
		return point{}, err
	}
	pt := point{Head: "Did the last change gain torque?", Command: a.command}
	told := map[string]int{}
	each(&pt, p, func(v tested) (string, bool) {
		latest, _ := v.latest()
		rows := a.of("vehicle", v.vehicle, "candidate", latest)
		if len(rows) == 0 || latest == "" {
			return "", false
		}
		text, lost := weigh(rows, rows[0].text("base"), latest)
		verdict, _, _ := strings.Cut(text, ":")
		told[verdict]++
		return text, lost
	})
	var heads []string
	for _, verdict := range slices.Sorted(maps.Keys(told)) {
		heads = append(heads, fmt.Sprintf("%s on %d", strings.ToLower(verdict[:1])+verdict[1:], told[verdict]))
	}
	if len(heads) > 0 {
		pt.heads = []string{"Last change: " + and(heads) + " of " + plural(len(p.vehicles), "vehicle", "vehicles") + "."}
	}
	return pt, nil
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
		return fmt.Sprintf("Too few pulls: %s against %s cannot be told.", candidate, base), false
	}
	span := func(r row) string {
		return fmt.Sprintf("%s%s at %s, 95 %% %s to %s", sign(r, "delta_nm"), r.shown("delta_nm"), r.shown("engine_speed_rpm"), r.bare("lo95"), r.bare("hi95"))
	}
	gains, losses := count["gain"], count["loss"]
	verdict := rows[0].text("verdict_all")
	if verdict == "" {
		verdict = pointwise(gains, losses)
	}
	bins := fmt.Sprintf("gain in %d and loss in %d of %s", gains, losses, plural(len(rows), "speed bin", "speed bins"))
	whole := ""
	if rows[0].has("delta_all_nm") {
		whole = fmt.Sprintf(", %s%s over the curve", sign(rows[0], "delta_all_nm"), rows[0].shown("delta_all_nm"))
	}
	switch verdict {
	case "gain":
		return fmt.Sprintf("Gain shown: %s over %s%s (most %s); %s.", candidate, base, whole, span(best), bins), false
	case "loss":
		return fmt.Sprintf("Loss shown: %s against %s%s (most %s); %s.", candidate, base, whole, span(worst), bins), true
	}
	return fmt.Sprintf("No difference shown: %s against %s%s (largest %s); %s.", candidate, base, whole, span(best), bins), false
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
	a, err := w.askOf(ctx, p.name, "limits/first")
	if a == nil || err != nil {
		return point{}, err
	}
	pt := point{Head: "When does it run out of air?", Command: a.command}
	blind := unwatched(a)
	var soonest row
	lowest := math.Inf(1)
	each(&pt, p, func(v tested) (string, bool) {
		latest, _ := v.latest()
		rows := a.of("vehicle", v.vehicle, "calibration", latest)
		if len(rows) == 0 {
			return "", false
		}
		r := rows[0]
		here := ""
		if list := notIn(watchless(r), blind); len(list) > 0 {
			here = " Not watched on it: " + and(list) + "."
		}
		if !r.has("first_limit") {
			return fmt.Sprintf("%s meets no limit within reach of %s.", named(latest), r.shown("highest_power_kw")) + here, false
		}
		if x, ok := r.number("wheel_power_kw"); ok && x < lowest {
			lowest, soonest = x, r
		}
		text := fmt.Sprintf("%s first meets %s (%s) at %s", named(latest), word(r.text("first_limit")), w.figureOf(r), r.shown("wheel_power_kw"))
		if r.has("lo95") && r.has("hi95") {
			text += fmt.Sprintf(" (95 %% %s to %s)", r.bare("lo95"), r.bare("hi95"))
		}
		text += ", " + r.text("basis")
		if r.text("bound_from") == "guide" {
			text += " against a rule of thumb"
		}
		if r.has("next_limit") {
			text += fmt.Sprintf("; then %s at %s, %s", word(r.text("next_limit")), r.shown("next_power_kw"), r.text("next_basis"))
		}
		return text + "." + here, r.text("basis") == "measured"
	})
	if !math.IsInf(lowest, 1) {
		pt.heads = []string{fmt.Sprintf("First out of air: %s at %s by %s, %s.", soonest.text("vehicle"), soonest.shown("wheel_power_kw"), word(soonest.text("first_limit")), soonest.text("basis"))}
	}
	if len(pt.Sentences) > 0 && len(blind) > 0 {
		pt.Sentences = append(pt.Sentences, sentence{Text: "Not watched, for want of a limit or of the channel: " + and(blind) + "."})
	}
	return pt, nil
}

// watchless is what of the things that end power a row does not watch.
func watchless(r row) []string {
	var list []string
	for n := range strings.SplitSeq(r.text("not_watched"), ", ") {
		if n != "" && !slices.Contains(list, word(n)) {
			list = append(list, word(n))
		}
	}
	return list
}

// unwatched is what no row watches.
func unwatched(a *answer) []string {
	if len(a.rows) == 0 {
		return nil
	}
	list := watchless(a.rows[0])
	for _, r := range a.rows {
		there := watchless(r)
		list = slices.DeleteFunc(list, func(s string) bool { return !slices.Contains(there, s) })
	}
	slices.Sort(list)
	return list
}

func notIn(list, known []string) []string {
	return slices.DeleteFunc(list, func(s string) bool { return slices.Contains(known, s) })
}

// figureOf is the bound of a first limit with its unit.
func (w *writer) figureOf(r row) string {
	x, ok := r.number("bound")
	if _, known := schema.Lookup(r.text("first_limit")); ok && known {
		return "limit " + w.measured(r.text("first_limit"), x)
	}
	return strings.TrimSpace("limit " + r.text("bound") + " " + strings.Trim(r.text("unit"), "1"))
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

// richness tells how low λ goes once the turbo has spooled up, and where it stands at the highest power.
func (w *writer) richness(ctx context.Context, p platform) (point, error) {
	a, err := w.askOf(ctx, p.name, "air/lambda")
	if a == nil || err != nil {
		return point{}, err
	}
	margins, err := w.askOf(ctx, p.name, "limits/margin")
	if err != nil {
		return point{}, err
	}
	pt := point{Head: "λ, air over what the fuel needs", Command: a.command}
	each(&pt, p, func(v tested) (string, bool) {
		latest, _ := v.latest()
		rows := slices.DeleteFunc(slices.Clone(a.of("vehicle", v.vehicle, "calibration", latest)), func(r row) bool { return !r.has("lambda_median") })
		if len(rows) == 0 {
			return "", false
		}
		last := rows[len(rows)-1]
		text := fmt.Sprintf("%s runs at λ %s at %s", named(latest), last.bare("lambda_median"), last.shown("wheel_power_kw"))
		if m := margins.of("vehicle", v.vehicle, "calibration", latest, "quantity", "lambda_ratio"); len(m) > 0 && m[0].has("worst") {
			text += fmt.Sprintf("; the lowest after spool-up is %s at %s, limit %s", w.stored(m[0], "worst"), m[0].shown("at_power_kw"), w.stored(m[0], "bound"))
			return text + ".", passed(m[0])
		}
		low := slices.MinFunc(rows, func(a, b row) int { return compare(a, b, "lambda_median") })
		return text + fmt.Sprintf("; the lowest is %s at %s.", low.bare("lambda_median"), low.shown("wheel_power_kw")), false
	})
	return pt, nil
}

// bound is the upper limit of a column that holds for a vehicle.
func (w *writer) bound(column, vehicle string, p platform, test string) (float64, bool) {
	l, ok := schema.LimitFor(w.in.Limits, column, vehicle, p.name, p.duty, test)
	return l.Max, ok && !math.IsNaN(l.Max)
}
