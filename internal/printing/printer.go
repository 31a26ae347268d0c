package printing

// Options say what of this machine the printer may use.
type Options struct {
	BrowserPath string // of a Chromium or Edge that prints the report; "" = looked for in the usual places; [NoBrowser] = none
}

// Printer draws figures and sets texts. Any number of goroutines may use it.
type Printer struct {
	opt   Options
	asked asked // of browsers: what they are called
}

// New gives a printer.
func New(opt Options) *Printer { return &Printer{opt: opt} }
