package exposure

import "fmt"

// fault says, in words that follow "this pass is not used: ", why a pass has
// no field.
type fault struct{ why string }

func (f *fault) Error() string { return f.why }

func faultf(format string, args ...any) error {
	return &fault{fmt.Sprintf(format, args...)}
}
