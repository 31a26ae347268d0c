package app

import (
	"errors"
	"fmt"
	"time"
)

var (
	// ErrNotPaired answers whoever comes over the network without the token of
	// a device that may come in.
	ErrNotPaired = errors.New("this tablet is not paired with this laptop")
	// ErrNotAllowed answers a tablet whose role may not do what it asked for.
	ErrNotAllowed = errors.New("this tablet may not do this")
	// ErrPairing answers for a pairing code that is not good.
	ErrPairing = errors.New("this tablet was not let in")
	// ErrNotServing answers where tablets cannot be let in now; it is wrapped
	// with the reason.
	ErrNotServing = errors.New("tablets cannot be let in")
	// ErrUnknownTablet answers for a tablet that was never paired.
	ErrUnknownTablet = errors.New("there is no such tablet")
	// ErrTablet answers for a wish about tablets that cannot be: a role, a name.
	ErrTablet = errors.New("this cannot be")
)

// TooMuchError answers whoever asks or sends more than is let in; nothing was
// changed.
type TooMuchError struct {
	What  string        // a sentence
	After time.Duration // when it is worth asking again
}

func (e *TooMuchError) Error() string {
	return fmt.Sprintf("%s; try again in %d s", e.What, e.Seconds())
}

// Seconds is After in whole seconds, at least one.
func (e *TooMuchError) Seconds() int { return max(1, int((e.After+time.Second-1)/time.Second)) }
