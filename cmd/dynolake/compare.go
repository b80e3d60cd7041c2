package main

import (
	"strconv"
	"time"

	"github.com/urfave/cli/v2"
)

func compareCommand() *cli.Command {
	return &cli.Command{
		Name:      "compare",
		Usage:     "two calibrations side by side: power, torque, boost, net drive, ratio, exhaust and lambda by engine speed, and whether a difference is real",
		ArgsUsage: "BASE CANDIDATE",
		Description: "A row a vehicle, quantity and engine-speed bin. delta is candidate less base, each value in the unit of its row; lo95 and hi95 are its pointwise 95 % interval\n" +
			"(Welch's t on pull means). gain means more of the quantity, loss less. verdict_all is that of the curve as a whole. Pulls are compared like with like; what was\n" +
			"left out is counted and said. `dynolake query compare/curves` shows every column, `dynolake packs show compare/curves` how.",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "vehicle", Usage: "only this vehicle, `ID`"},
			&cli.StringFlag{Name: "platform", Usage: "only this platform, `NAME`"},
			&cli.IntFlag{Name: "gear", Usage: "compare this gear `N`", DefaultText: "the most frequent"},
			&cli.StringFlag{Name: "from", Usage: "only runs started on this day (UTC) or at this `TIME`, or later"},
			&cli.StringFlag{Name: "to", Usage: "only runs started up to this day (UTC), or before this `TIME`"},
			paramFlag(),
		}, placeFlags()...),
		Action: compare,
	}
}

func compare(c *cli.Context) error {
	if c.NArg() != 2 {
		return usagef("compare wants two calibrations, BASE CANDIDATE; `dynolake runs` lists those that were run")
	}
	if err := checkPlace(c); err != nil {
		return err
	}
	params, err := parameters(c)
	if err != nil {
		return err
	}
	base, candidate := c.Args().Get(0), c.Args().Get(1)
	params["base"], params["candidate"] = base, candidate
	for _, name := range []string{"vehicle", "platform"} {
		if c.IsSet(name) {
			params[name] = c.String(name)
		}
	}
	if c.IsSet("gear") {
		params["gear"] = strconv.Itoa(c.Int("gear"))
	}
	for _, end := range []struct {
		flag, param string
		days        int
	}{{"from", "since", 0}, {"to", "until", 1}} {
		if c.IsSet(end.flag) {
			if params[end.param], err = moment(c.String(end.flag), end.days); err != nil {
				return usagef("read --%s: %w", end.flag, err)
			}
		}
	}
	if base == candidate {
		say(c, "base and candidate are the same calibration, %q: nothing can differ", base)
	}
	shown := []string{"vehicle", "quantity", "engine_speed_rpm", "base", "candidate", "delta", "lo95", "hi95", "verdict", "n_base", "n_candidate", "unit", "verdict_all", "left_out", "left_out_why"}
	n, err := showPick(c, pick{pack: "compare/curves", params: params, columns: shown, values: []string{"base", "candidate"}, differences: []string{"delta", "lo95", "hi95"}})
	if err == nil && n == 0 {
		say(c, "no vehicle has pulls of both %q and %q that were asked for", base, candidate)
	}
	return err
}

// moment reads a time: a day alone is taken days later, so that a last day counts whole.
func moment(text string, days int) (string, error) {
	if day, err := time.Parse(time.DateOnly, text); err == nil {
		return day.AddDate(0, 0, days).Format(time.DateOnly), nil
	}
	if _, err := time.Parse(time.RFC3339, text); err != nil {
		return "", usagef("found %q, want a day such as 2026-03-31 or a time such as 2026-03-31T08:30:00Z", text)
	}
	return text, nil
}
