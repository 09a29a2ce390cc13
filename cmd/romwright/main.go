// Romwright is a tool for whoever builds a Z80 computer on their own bench.
package main

import (
	"os"

	"romwright/cmd"
)

func main() { os.Exit(cmd.Main()) }
