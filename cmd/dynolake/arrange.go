package main

import (
	"slices"
	"strings"

	"github.com/urfave/cli/v2"
)

// arranging is a command line on its way into the order in which it is parsed.
type arranging struct {
	app      *cli.App
	path     []string // The program and its commands.
	current  *cli.Command
	commands []*cli.Command // That may come next.
	options  []string
	rest     []string
	help     bool
}

// arrange moves options behind their command and in front of its arguments, so that every option is understood before and
// after the name and between arguments. What follows a bare -- is an argument. `help COMMAND` is the same as `COMMAND --help`.
// A wrong command or option is a usage error that names the nearest right one. args[0] is the program.
func arrange(app *cli.App, args []string) ([]string, error) {
	a := &arranging{app: app, path: args[:1:1], commands: app.Commands}
	for i := 1; i < len(args); i++ {
		switch word := args[i]; {
		case word == "--":
			a.rest = append(a.rest, args[i+1:]...)
			i = len(args)
		case strings.HasPrefix(word, "-") && word != "-":
			a.options = append(a.options, word)
			if f := a.flag(word); f == nil || !wantsValue(f) || strings.Contains(word, "=") {
				continue
			}
			if i++; i == len(args) {
				return nil, usagef("option %s wants a value; see %s", word, a.page())
			}
			a.options = append(a.options, args[i])
		default:
			a.word(word)
		}
	}
	if err := a.check(); err != nil {
		return nil, err
	}
	out := append(slices.Clone(a.path), a.options...)
	if a.help {
		return append(out, "--help"), nil
	}
	if len(a.rest) > 0 {
		out = append(append(out, "--"), a.rest...)
	}
	return out, nil
}

// word takes in what is no option: a command, help, or an argument.
func (a *arranging) word(word string) {
	next := named(a.commands, word)
	switch {
	case len(a.rest) > 0:
		a.rest = append(a.rest, word)
	case next != nil:
		a.current, a.commands = next, next.Subcommands
		a.path = append(a.path, word)
	case word == "help":
		a.help = true
	default:
		a.rest = append(a.rest, word)
	}
}

// check refuses commands and options that are none.
func (a *arranging) check() error {
	if len(a.rest) > 0 && (a.current == nil || len(a.commands) > 0) {
		return usagef("no such command %q%s; see %s", strings.Join(append(slices.Clone(a.path[1:]), a.rest[0]), " "), nearest(a.rest[0], names(a.commands)), a.page())
	}
	for i := 0; i < len(a.options); i++ {
		f := a.flag(a.options[i])
		if f == nil {
			name, _, _ := strings.Cut(strings.TrimLeft(a.options[i], "-"), "=")
			return usagef("no such option --%s%s; see %s", name, nearest("--"+name, a.optionNames()), a.page())
		}
		if wantsValue(f) && !strings.Contains(a.options[i], "=") {
			i++
		}
	}
	if a.current == nil && !a.help && len(a.options) > 0 && !slices.ContainsFunc(a.options, func(o string) bool { return a.flag(o) == cli.HelpFlag }) {
		return usagef("found no command, want one of %s; see %s", strings.Join(names(a.commands), ", "), a.page())
	}
	return nil
}

// page names the help page that fits.
func (a *arranging) page() string {
	return strings.Join(append([]string{"dynolake"}, a.path[1:]...), " ") + " --help"
}

// flags are those of the command; before it is known, those of every command.
func (a *arranging) flags() []cli.Flag {
	flags := append(slices.Clone(a.app.Flags), cli.HelpFlag)
	if a.current != nil {
		return append(flags, a.current.Flags...)
	}
	for _, c := range a.app.Commands {
		flags = append(flags, c.Flags...)
	}
	return flags
}

// flag finds an option by a word of the command line, with or without its value.
func (a *arranging) flag(word string) cli.Flag {
	name, _, _ := strings.Cut(strings.TrimLeft(word, "-"), "=")
	for _, f := range a.flags() {
		if slices.Contains(f.Names(), name) {
			return f
		}
	}
	return nil
}

func (a *arranging) optionNames() []string {
	var list []string
	for _, f := range a.flags() {
		list = append(list, "--"+f.Names()[0])
	}
	return list
}

func wantsValue(f cli.Flag) bool {
	_, isSwitch := f.(*cli.BoolFlag)
	return !isSwitch
}

func named(commands []*cli.Command, name string) *cli.Command {
	for _, c := range commands {
		if c.HasName(name) {
			return c
		}
	}
	return nil
}

func names(commands []*cli.Command) []string {
	var list []string
	for _, c := range commands {
		list = append(list, c.Name)
	}
	return list
}
