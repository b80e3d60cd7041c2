package main

import (
	"strings"

	"github.com/urfave/cli/v2"
)

// arrange moves options behind their command and in front of its arguments, so that every option is understood before and
// after the name and between arguments. args[0] is the program. What follows a bare -- is left alone.
func arrange(app *cli.App, args []string) []string {
	path, commands := []string{args[0]}, app.Commands
	var current *cli.Command
	var options, rest []string
	for i := 1; i < len(args); i++ {
		a := args[i]
		switch {
		case a == "--":
			rest = append(rest, args[i+1:]...)
			i = len(args)
		case strings.HasPrefix(a, "-") && a != "-":
			options = append(options, a)
			if !strings.Contains(a, "=") && takesValue(app, current, strings.TrimLeft(a, "-")) && i+1 < len(args) {
				i++
				options = append(options, args[i])
			}
		default:
			if next := named(commands, a); next != nil && len(rest) == 0 {
				current, commands = next, next.Subcommands
				path = append(path, a)
			} else {
				rest = append(rest, a)
			}
		}
	}
	out := append(path, options...)
	if len(rest) > 0 {
		out = append(append(out, "--"), rest...)
	}
	return out
}

func named(commands []*cli.Command, name string) *cli.Command {
	for _, c := range commands {
		if c.HasName(name) {
			return c
		}
	}
	return nil
}

// takesValue tells a switch from an option with a value. Before the command is known every command's options count.
func takesValue(app *cli.App, current *cli.Command, name string) bool {
	flags := app.Flags
	if current != nil {
		flags = append(flags, current.Flags...)
	} else {
		for _, c := range app.Commands {
			flags = append(flags, c.Flags...)
		}
	}
	for _, f := range flags {
		for _, n := range f.Names() {
			if n == name {
				_, isSwitch := f.(*cli.BoolFlag)
				return !isSwitch
			}
		}
	}
	return false
}
