package cmd

import "github.com/spf13/cobra"

// commands lists the commands, by name as the help does.
func commands(s streams) []*cobra.Command {
	return []*cobra.Command{
		newBuild(s),
		newCapture(s),
		newCompare(s),
		newCompletion(s),
		newLamps(s),
		newOpcodes(s),
		newPorts(s),
		newSample(s),
		newSend(s),
		newVerify(s),
		newVersion(s),
	}
}
