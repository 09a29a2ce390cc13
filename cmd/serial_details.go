//go:build !darwin || cgo

package cmd

import "go.bug.st/serial/enumerator"

// listPorts gives the serial ports with what the system knows of them.
func listPorts() ([]portInfo, error) {
	list, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil, err
	}
	out := make([]portInfo, 0, len(list))
	for _, p := range list {
		i := portInfo{Name: p.Name}
		if p.IsUSB {
			i.USB, i.Product, i.Serial = p.VID+":"+p.PID, p.Product, p.SerialNumber
		}
		out = append(out, i)
	}
	return out, nil
}
