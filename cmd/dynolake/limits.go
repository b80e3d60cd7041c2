package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"dynolake/pipeline/config"
	"dynolake/queries/result"
)

func limitsCommand() *cli.Command {
	return &cli.Command{
		Name:  "limits",
		Usage: "how far every vehicle and calibration stays from each limit of config/limits.yaml, and at which power it meets it",
		Description: "A row a vehicle, calibration and limit. worst is the worst of the power bins' medians over pulls, margin what is left to the bound (below 0: passed), each in the unit of its row.\n" +
			"expected_power_kw is where the limit is met: measured, or extrapolated by at most 15 %. Limits are guides: the makers' figures and licensed practice come first.\n" +
			"`dynolake query limits/first` tells which limit each vehicle meets first as power rises.",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "vehicle", Usage: "only this vehicle, `ID`"},
			&cli.StringFlag{Name: "platform", Usage: "only this platform, `NAME`"},
			&cli.StringFlag{Name: "calibration", Usage: "only this calibration, `NAME`"},
			paramFlag(),
			anewFlag(),
		}, placeFlags()...),
		Action: limits,
	}
}

func limits(c *cli.Context) error {
	if err := noArguments(c); err != nil {
		return err
	}
	if err := checkPlace(c); err != nil {
		return err
	}
	params, err := parameters(c)
	if err != nil {
		return err
	}
	for _, name := range []string{"vehicle", "platform", "calibration"} {
		if c.IsSet(name) {
			params[name] = c.String(name)
		}
	}
	var conf config.Config
	if c.String("of") == "" {
		if conf, err = config.Load(configDir(c)); err != nil {
			return err
		}
	}
	for _, f := range conf.Findings { // A limit on a misspelt vehicle would never be heard of.
		if strings.HasPrefix(f.Code, "limit_of_unknown_") {
			say(c, "%s: %s", f.Severity, result.Harmless(f.Text))
		}
	}
	shown := []string{"vehicle", "calibration", "quantity", "bound", "direction", "worst", "at_power_kw", "margin", "expected_power_kw", "basis", "lo95", "hi95", "highest_power_kw", "n", "unit", "note", "limit_note"}
	n, err := showPick(c, pick{pack: "limits/margin", params: params, columns: shown, values: []string{"bound", "worst"}, differences: []string{"margin"}})
	if err == nil && n == 0 {
		switch {
		case c.String("of") != "":
			say(c, "no pull is limited: none of the limits that were published is for a vehicle and test that is there")
		case len(conf.Limits) > 0:
			say(c, "no pull is limited: none of the limits in %s/limits.yaml is for a vehicle and test that the lake has", configDir(c))
		default:
			say(c, "no pull is limited: state limits in %s/limits.yaml", configDir(c))
		}
	}
	return err
}
