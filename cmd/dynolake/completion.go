package main

import (
	"context"
	_ "embed" // For the shells' scripts.
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"
)

// completing is the last word of a command line by which a shell asks how the word before it may go on.
const completing = "--generate-bash-completion"

//go:embed completion/bash.sh
var bashScript string

//go:embed completion/zsh.sh
var zshScript string

//go:embed completion/fish.fish
var fishScript string

func completionCommand() *cli.Command {
	return &cli.Command{
		Name:      "completion",
		Usage:     "print what makes a shell complete commands, options, queries, parameters, vehicles and calibrations",
		ArgsUsage: "bash|zsh|fish",
		Description: "bash: put  source <(dynolake completion bash)  into ~/.bashrc.\n" +
			"zsh:  put  source <(dynolake completion zsh)  into ~/.zshrc, after compinit.\n" +
			"fish: dynolake completion fish > ~/.config/fish/completions/dynolake.fish",
		Action: func(c *cli.Context) error {
			scripts := map[string]string{"bash": bashScript, "zsh": zshScript, "fish": fishScript}
			if c.NArg() != 1 {
				return usagef("completion wants a shell: bash, zsh or fish")
			}
			script, ok := scripts[c.Args().First()]
			if !ok {
				return usagef("no completion for the shell %q%s: want bash, zsh or fish", c.Args().First(), nearest(c.Args().First(), []string{"bash", "zsh", "fish"}))
			}
			_, err := io.WriteString(c.App.Writer, script)
			return err
		},
	}
}

// asksCompletion reports whether a command line is a shell's question.
func asksCompletion(args []string) bool { return len(args) > 2 && args[len(args)-1] == completing }

// complete answers a shell: a line for each way in which the last word may go on. args are the words of the command line, the program
// first and the word to complete last. It finds less where something fails, and never says why: a shell would print it.
func complete(ctx context.Context, app *cli.App, args []string, w io.Writer) {
	words, last := args[1:len(args)-1], args[len(args)-1]
	a := &arranging{app: app, path: args[:1:1], commands: app.Commands}
	var wanting cli.Flag // An option whose value is the word to complete.
	values := map[string]string{}
	for i := 0; i < len(words); i++ {
		word := words[i]
		if !strings.HasPrefix(word, "-") || word == "-" {
			a.word(word)
			continue
		}
		f := a.flag(word)
		name, value, given := strings.Cut(strings.TrimLeft(word, "-"), "=")
		switch {
		case f == nil || !wantsValue(f) || given:
		case i+1 == len(words):
			wanting = f
		default:
			i++
			value = words[i]
		}
		values[name] = value
	}
	o := offers{ctx: ctx, arranging: a, values: values}
	for _, line := range o.list(wanting, last) {
		if strings.HasPrefix(line, last) && !strings.ContainsAny(line, "\n\r") {
			_, _ = fmt.Fprintln(w, line) // Nobody is left to tell of an error.
		}
	}
}

// offers are the words that may come next.
type offers struct {
	ctx context.Context //nolint:containedctx // It lives as long as the question.
	*arranging
	values map[string]string // Of the options before.
}

func (o *offers) list(wanting cli.Flag, last string) []string {
	switch {
	case wanting != nil:
		return o.valuesOf(wanting.Names()[0])
	case strings.HasPrefix(last, "--") && strings.Contains(last, "="):
		name, _, _ := strings.Cut(last[2:], "=")
		return prefixed("--"+name+"=", o.valuesOf(name))
	case strings.HasPrefix(last, "-"):
		return o.optionNames()
	case len(o.commands) > 0 && len(o.rest) == 0:
		return names(o.commands)
	case o.current == nil:
		return nil
	}
	return o.arguments()
}

// arguments are what a command may be given.
func (o *offers) arguments() []string {
	switch strings.Join(o.path[1:], " ") {
	case "query", "packs show":
		if len(o.rest) == 0 {
			return o.queries()
		}
	case "packs test":
		return o.folders()
	case "compare":
		return o.distinct("calibration")
	case "size":
		return o.distinct("vehicle")
	case "runs show", "export", "reprocess":
		return o.distinct("run_id")
	case "channels":
		return columnNames()
	case "completion":
		return []string{"bash", "zsh", "fish"}
	}
	return nil
}

func prefixed(head string, list []string) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = head + s
	}
	slices.Sort(out)
	return slices.Compact(out)
}
