package app

import "context"

// Caller is who asks: the laptop itself (the zero Caller), or a tablet.
type Caller struct {
	Device string   // of the list of devices
	Name   string   // as people call it
	Role   string   // in the study that is asked for
	Writes []string // names under which it may write entries; also each with -2, -3 … after it
}

type callerKey struct{}

// WithCaller says who asks.
func WithCaller(ctx context.Context, c Caller) context.Context {
	return context.WithValue(ctx, callerKey{}, c)
}

// CallerOf is who asks.
func CallerOf(ctx context.Context) Caller {
	c, _ := ctx.Value(callerKey{}).(Caller)
	return c
}
