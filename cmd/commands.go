package cmd

import "github.com/spf13/cobra"

// commands lists the commands in the order of the help.
func commands(s streams) []*cobra.Command {
	return []*cobra.Command{
		newBuild(s),
		newCapture(s),
		newCompletion(s),
		newCompare(s),
		newLamps(s),
		newPorts(s),
		newOpcodes(s),
		newSample(s),
		newSend(s),
		newVerify(s),
		newVersion(s),
	}
}
