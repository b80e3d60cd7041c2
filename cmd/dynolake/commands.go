package main

import "github.com/urfave/cli/v2"

func commands() []*cli.Command {
	return []*cli.Command{
		initCommand(), demoCommand(), inspectCommand(), ingestCommand(), channelsCommand(), runsCommand(), packsCommand(), queryCommand(), compareCommand(), limitsCommand(), reportCommand(),
		refreshCommand(), completionCommand(), verifyCommand(), compactCommand(), reprocessCommand(), exportCommand(), publishCommand(),
	}
}
