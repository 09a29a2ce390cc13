//go:build darwin && !cgo

package cmd

import "go.bug.st/serial"

// listPorts gives the serial ports' names. The library asks this system for
// more with C, which this build goes without.
func listPorts() ([]portInfo, error) {
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, err
	}
	out := make([]portInfo, 0, len(names))
	for _, n := range names {
		out = append(out, portInfo{Name: n})
	}
	return out, nil
}
