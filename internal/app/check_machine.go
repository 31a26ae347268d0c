package app

// MachineCheck is one thing that the program needs of the machine it runs on.
type MachineCheck struct {
	What   string
	OK     bool
	Found  string
	Remedy string // the exact command or step, where something is missing
}
