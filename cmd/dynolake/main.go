// Command dynolake keeps every log a diesel calibration shop takes in one lake and answers from it how hard each turbo
// works, where each vehicle shifts, what torque it makes and what its exhaust takes away.
//
// Exit codes: 0 done; 1 failed, the lake is as it was before; 2 the command line was wrong; 3 done, but some inputs were
// set aside, each with its reason; 4 done, and a limit that the caller asked to be told of was passed.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"dynolake/pipeline/disk"

	"github.com/urfave/cli/v2"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop)   // A second interrupt ends the process at once.
	signal.Ignore(syscall.SIGXFSZ) // A file that may not grow is an error of its write, and is told as one.
	code := run(ctx, os.Args, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// run is the program without the process: it returns the exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	return runOn(ctx, disk.OS(), args, stdout, stderr)
}

// runOn is run with all that the program writes going to one disk.
func runOn(ctx context.Context, d disk.Disk, args []string, stdout, stderr io.Writer) int {
	app := newApp(stdout, stderr)
	app.Metadata = map[string]any{diskName: d}
	if asksCompletion(args) {
		complete(ctx, app, args[:len(args)-1], stdout)
		return 0
	}
	args, err := arrange(app, args)
	if err == nil {
		err = app.RunContext(ctx, args)
	}
	return exitCode(err, stderr)
}

// Exit codes, as a caller may rely on them.
const (
	exitFailed   = 1
	exitUsage    = 2
	exitSetAside = 3
	exitLimit    = 4
)

// errSetAside ends a command that did its work but left inputs aside; what and why was printed before.
var errSetAside = errors.New("some inputs were set aside: see the findings")

// usageError is a fault of the command line.
type usageError struct{ err error }

func (e usageError) Error() string { return e.err.Error() }
func (e usageError) Unwrap() error { return e.err }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// exitCode is the one place that turns errors into exit codes.
func exitCode(err error, stderr io.Writer) int {
	var usage usageError
	switch {
	case err == nil:
		return 0
	case errors.Is(err, errLimit):
		return exitLimit
	case errors.Is(err, errSetAside):
		return exitSetAside
	case errors.As(err, &usage):
		fmt.Fprintf(stderr, "dynolake: %v\n", err)
		return exitUsage
	case errors.Is(err, context.Canceled):
		fmt.Fprintf(stderr, "dynolake: interrupted\n")
		return exitFailed
	default:
		fmt.Fprintf(stderr, "dynolake: %v\n", err)
		return exitFailed
	}
}

func newApp(stdout, stderr io.Writer) *cli.App {
	app := &cli.App{
		Name:  "dynolake",
		Usage: "a lake of dyno and road logs that answers how hard the turbo works, where it shifts, what torque it makes",
		Description: "Full-power runs on rollers can kill: restrain the vehicle, extract the exhaust, check tyre ratings, keep people clear.\n" +
			"Local codes, the makers' figures and licensed practice come before anything shown here.\n\n" +
			"dynolake COMMAND --help says more about a command. Exit codes: 0 done, 1 failed, 2 the command line was wrong, 3 done but some inputs were set aside,\n" +
			"4 done and a limit that you asked to be told of is passed.",
		HideVersion:     true,
		HideHelpCommand: true,

		DisableSliceFlagSeparator: true, // A list is one parameter: --param thresholds=1.0,1.2.

		Writer:    stdout,
		ErrWriter: stderr,
		Flags:     commonFlags(),
		Commands:  commands(),
		ExitErrHandler: func(*cli.Context, error) {
			// exitCode prints and chooses the code.
		},
		OnUsageError: onUsage,
		Action:       func(c *cli.Context) error { return cli.ShowAppHelp(c) },
	}
	for _, c := range app.Commands {
		prepare(c)
	}
	return app
}

// prepare gives a command and its subcommands the common options, looked at before anything is done, and the usage errors.
func prepare(c *cli.Command) {
	c.Flags = append(c.Flags, commonFlags()...)
	c.OnUsageError = onUsage
	c.HideHelpCommand = true
	c.Before = func(c *cli.Context) error {
		_, _, err := presentation(c)
		return err
	}
	for _, s := range c.Subcommands {
		prepare(s)
	}
}

func onUsage(c *cli.Context, err error, _ bool) error {
	said := strings.ReplaceAll(err.Error(), " flag -", " option --")
	return usagef("%s; see %s --help", strings.Replace(said, " for -", " for option --", 1), c.Command.HelpName)
}
