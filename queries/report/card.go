package report

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
)

// card answers for one platform.
type card struct {
	Name, Duty, Line string
	Heads            []string // What it comes to, in a line or two.
	Points           []point
}

// point is one answer in sentences, a sentence a vehicle, with the command that gives its numbers.
type point struct {
	Head      string
	Sentences []sentence
	Command   string
	more      int
	heads     []string
}

// sentence is what is said of a vehicle; Alert where a limit is passed or torque was lost.
type sentence struct {
	Vehicle, Text string
	Alert         bool
}

// most is how many vehicles a card speaks of, those run last first.
const most = 4

func (w *writer) card(ctx context.Context, p platform) (card, error) {
	c := card{Name: p.name, Duty: p.duty, Line: fmt.Sprintf("%s, %s", plural(len(p.vehicles), "vehicle", "vehicles"), plural(int(p.runs), "run", "runs"))}
	for _, make := range []func(context.Context, platform) (point, error){w.gain, w.strength, w.air, w.ease, w.exhaust, w.richness, w.shifts} {
		pt, err := make(ctx, p)
		if err != nil {
			return c, err
		}
		if pt.more > 0 {
			pt.Sentences = append(pt.Sentences, sentence{Text: fmt.Sprintf("And %s; the command shows all.", plural(pt.more, "other vehicle", "other vehicles"))})
		}
		c.Heads = append(c.Heads, pt.heads...)
		if len(pt.Sentences) > 0 {
			c.Points = append(c.Points, pt)
		}
	}
	return c, nil
}

// each makes a sentence for each of the platform's vehicles, as far as a card has room.
func each(pt *point, p platform, say func(tested) (string, bool)) {
	for _, v := range p.vehicles {
		text, alert := say(v)
		switch {
		case text == "":
		case len(pt.Sentences) == most:
			pt.more++
		default:
			pt.Sentences = append(pt.Sentences, sentence{v.vehicle, text, alert})
		}
	}
}

// strength tells peak power and torque of the latest calibration.
func (w *writer) strength(ctx context.Context, p platform) (point, error) {
	a, err := w.askOf(ctx, p.name, "torque/peak")
	if a == nil || err != nil {
		return point{}, err
	}
	pt := point{Head: "Power and torque at the wheels", Command: a.command}
	each(&pt, p, func(v tested) (string, bool) {
		latest, before := v.latest()
		now := a.of("vehicle", v.vehicle, "calibration", latest)
		if len(now) == 0 {
			return "", false
		}
		text := fmt.Sprintf("%s makes %s at %s and %s at %s (%s)", named(latest), now[0].shown("peak_power_kw"), now[0].shown("at_rpm"),
			now[0].shown("peak_torque_nm"), now[0].shown("at_rpm_torque"), pulls(now[0], "n_pulls"))
		if was := a.of("vehicle", v.vehicle, "calibration", before); len(was) > 0 && before != "" {
			text += fmt.Sprintf("; %s made %s and %s", named(before), was[0].shown("peak_power_kw"), was[0].shown("peak_torque_nm"))
		}
		return text + ".", false
	})
	return pt, nil
}

// short is a ratio with two digits after the point.
func short(r row, column string) string {
	x, _ := r.number(column)
	return fmt.Sprintf("%.2f", x)
}

func pulls(r row, column string) string {
	n, _ := r.number(column)
	return plural(int(n), "pull", "pulls")
}

// ease tells at which power the drive ratio reaches its thresholds.
func (w *writer) ease(ctx context.Context, p platform) (point, error) {
	a, err := w.askOf(ctx, p.name, "drive/onset")
	if a == nil || err != nil {
		return point{}, err
	}
	cost, err := w.askOf(ctx, p.name, "drive/marginal")
	if err != nil {
		return point{}, err
	}
	pt := point{Head: "Drive ratio (net drive over boost)", Command: a.command}
	each(&pt, p, func(v tested) (string, bool) {
		latest, _ := v.latest()
		rows := a.of("vehicle", v.vehicle, "calibration", latest)
		var reached, not []string
		for _, r := range rows {
			threshold := plain(r.text("threshold"))
			switch {
			case r.has("wheel_power_kw") && r.has("lo95") && r.has("hi95"):
				reached = append(reached, fmt.Sprintf("%s from %s (%s to %s)", threshold, r.shown("wheel_power_kw"), r.bare("lo95"), r.bare("hi95")))
			case r.has("wheel_power_kw"):
				reached = append(reached, fmt.Sprintf("%s from %s", threshold, r.shown("wheel_power_kw")))
			default:
				not = append(not, threshold)
			}
		}
		if len(rows) == 0 {
			return "", false
		}
		text := named(latest) + " stays at or above " + and(reached)
		if len(reached) == 0 {
			text = named(latest) + " reaches no threshold"
		}
		if len(not) > 0 {
			text += fmt.Sprintf("; %s not reached up to %s", and(not), rows[0].shown("highest_power_kw"))
		}
		if k := cost.of("vehicle", v.vehicle, "calibration", latest, "knee", "true"); len(k) > 0 && k[0].has("knee_power_kw") {
			text += fmt.Sprintf(". It bends at %s: more boost costs %s times as much drive pressure below it", k[0].shown("knee_power_kw"), short(k[0], "ratio_below"))
			if x, ok := k[0].number("ratio_above"); ok && x < 20 {
				text += " and " + short(k[0], "ratio_above") + " times above"
			} else {
				text += ", and above it boost hardly rises"
			}
		}
		return text + ".", false
	})
	return pt, nil
}

func plain(s string) string {
	if !strings.Contains(s, ".") && s != "" {
		return s + ".0"
	}
	return s
}

// exhaust tells what exhaust and filter take away at the highest power.
func (w *writer) exhaust(ctx context.Context, p platform) (point, error) {
	a, err := w.askOf(ctx, p.name, "backpressure/by_power")
	if a == nil || err != nil {
		return point{}, err
	}
	pt := point{Head: "Exhaust and filter at the highest power", Command: a.command}
	each(&pt, p, func(v tested) (string, bool) {
		latest, _ := v.latest()
		rows := a.of("vehicle", v.vehicle, "calibration", latest)
		if len(rows) == 0 {
			return "", false
		}
		r := rows[len(rows)-1]
		text := fmt.Sprintf("%s has %s after the turbine at %s", named(latest), r.shown("exhaust_gauge_kpa"), r.shown("wheel_power_kw"))
		if share, ok := r.number("share_of_turbine_in"); ok {
			text += fmt.Sprintf(", %s of the pressure before it", percent(share))
		}
		filter, ok1 := r.number("dpf_delta_kpa")
		exhaust, ok2 := r.number("exhaust_gauge_kpa")
		if ok1 && ok2 && exhaust > 0 {
			text += fmt.Sprintf("; the filter is %s, %s of it", r.shown("dpf_delta_kpa"), percent(filter/exhaust))
		}
		limit, upper := w.bound("exhaust_gauge_kpa", v.vehicle, p, r.text("test"))
		return text + ".", upper && exhaust > limit
	})
	return pt, nil
}

func percent(x float64) string { return fmt.Sprintf("%.0f\u00a0%%", 100*x) }

// shifts tells at which engine speed the platform shifts up, wide open and at a light pedal.
func (w *writer) shifts(ctx context.Context, p platform) (point, error) {
	a, err := w.askOf(ctx, p.name, "shift/by_pedal")
	if a == nil || err != nil || len(a.rows) == 0 {
		return point{}, err
	}
	pt := point{Head: "Upshifts", Command: a.command}
	light, wide := math.Inf(1), math.Inf(-1)
	for _, r := range a.rows {
		x, _ := r.number("pedal_pct")
		light, wide = math.Min(light, x), math.Max(wide, x)
	}
	for _, pedal := range slices.Compact([]float64{wide, light}) {
		var words []string
		n := 0.0
		for _, r := range a.rows {
			if x, _ := r.number("pedal_pct"); x != pedal {
				continue
			}
			gear, _ := r.number("from_gear")
			words = append(words, fmt.Sprintf("%g→%g at %s", gear, gear+1, r.bare("engine_speed_rpm")))
			k, _ := r.number("n")
			n += k
		}
		pt.Sentences = append(pt.Sentences, sentence{Text: fmt.Sprintf("Pedal %.0f to %.0f %%: %s %s (%s).", pedal-5, pedal+5, and(words), a.unit("engine_speed_rpm"), plural(int(n), "shift", "shifts"))})
	}
	return pt, nil
}
