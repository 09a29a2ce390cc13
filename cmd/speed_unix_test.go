//go:build unix

package cmd

import (
	"os"
	"runtime"
	"syscall"
)

// peakMiB is the largest resident set of a process that has ended.
func peakMiB(p *os.ProcessState) float64 {
	u, ok := p.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0
	}
	unit := 1024.0 // kilobytes on Linux
	if runtime.GOOS == "darwin" {
		unit = 1
	}
	return float64(u.Maxrss) * unit / (1 << 20)
}
