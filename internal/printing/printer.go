package printing

// Options say what of this machine the printer may use.
type Options struct {
	BrowserPath string // of a Chromium or Edge that prints the report; "" = looked for in the usual places
}

// Printer draws figures and sets texts. It holds nothing that changes: any number
// of goroutines may use it.
type Printer struct {
	opt Options
}

// New gives a printer.
func New(opt Options) *Printer { return &Printer{opt: opt} }
