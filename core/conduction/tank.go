package conduction

import "fmt"

type tank struct{}

func newTank(*Solution) (*tank, error) { return nil, fmt.Errorf("%w: a tank", ErrNotYet) }

func (t *tank) eval(int, Point) (float64, Vector) { return 0, Vector{} }
