package numeric_test

import (
	"errors"
	"math"
	"testing"

	"brinefield/core/numeric"
	"brinefield/core/numeric/numtest"

	"gonum.org/v1/gonum/mat"
)

func wide(k int) numeric.Search {
	s := numeric.Search{Low: make([]float64, k), High: make([]float64, k), Step: make([]float64, k)}
	for i := range k {
		s.Low[i], s.High[i], s.Step[i] = -1e6, 1e6, 5
	}
	return s
}

// Minus Rosenbrock's function: a curved ridge where −H is not positive
// definite on the way. Maximum 0 at (1, 1), a closed form.
func rosenbrock(x, g []float64, h *mat.SymDense) float64 {
	a, b := 1-x[0], x[1]-x[0]*x[0]
	g[0], g[1] = 2*a+400*x[0]*b, -200*b
	h.SetSym(0, 0, -2+400*b-800*x[0]*x[0])
	h.SetSym(0, 1, 400*x[0])
	h.SetSym(1, 1, -200)
	return -a*a - 100*b*b
}

func TestMaximiseCurvedRidge(t *testing.T) {
	for _, start := range [][]float64{{-1.2, 1}, {0, 3}, {10, -10}} {
		top, err := numeric.Maximise(rosenbrock, start, wide(2))
		if err != nil {
			t.Fatalf("from %v: %v", start, err)
		}
		numtest.Check(t, "x", top.X[0], 1, numtest.Tolerance{Abs: 1e-9})
		numtest.Check(t, "y", top.X[1], 1, numtest.Tolerance{Abs: 1e-9})
	}
}

// A quartic bowl with its maximum 0 at (2, 3c), steeper or flatter in the second
// parameter by c: the search must not care.
func TestMaximiseUnlikeScales(t *testing.T) {
	for _, c := range []float64{1, 1e-9, 1e8} {
		f := func(x, g []float64, h *mat.SymDense) float64 {
			u, v := x[0]-2, (x[1]-3*c)/c
			g[0], g[1] = -4*u*u*u-u-v/2, (-v-u/2)/c
			h.SetSym(0, 0, -12*u*u-1)
			h.SetSym(0, 1, -0.5/c)
			h.SetSym(1, 1, -1/(c*c))
			return -u*u*u*u - u*u/2 - v*v/2 - u*v/2
		}
		s := wide(2)
		s.High[1], s.Step[1] = 1e12, 5*c
		top, err := numeric.Maximise(f, []float64{-1, 0}, s)
		if err != nil {
			t.Fatalf("scale %g: %v", c, err)
		}
		numtest.Check(t, "x", top.X[0], 2, numtest.Tolerance{Abs: 3e-9})
		numtest.Check(t, "y", top.X[1]/c, 3, numtest.Tolerance{Abs: 3e-9})
	}
}

// A ridge has no single maximum: −H is singular along it, and that is said.
func TestMaximiseRidge(t *testing.T) {
	f := func(x, g []float64, h *mat.SymDense) float64 {
		u := x[0] + x[1]
		g[0], g[1] = -u, -u
		h.SetSym(0, 0, -1)
		h.SetSym(0, 1, -1)
		h.SetSym(1, 1, -1)
		return -u * u / 2
	}
	if _, err := numeric.Maximise(f, []float64{1, 2}, wide(2)); !errors.Is(err, numeric.ErrNotConverged) {
		t.Errorf("a ridge: %v", err)
	}
}

// ln(1+e^x) has no maximum: the search says which way x ran off. −∞ outside
// the domain is backed away from.
func TestMaximiseRunsOffAndDomain(t *testing.T) {
	rising := func(x, g []float64, h *mat.SymDense) float64 {
		g[0] = 1 / (1 + math.Exp(-x[0]))
		h.SetSym(0, 0, g[0]*(1-g[0]))
		return math.Log1p(math.Exp(x[0]))
	}
	s := wide(1)
	s.High[0] = 50
	var off *numeric.RanOff
	if _, err := numeric.Maximise(rising, []float64{0}, s); !errors.As(err, &off) || off.Low || off.Index != 0 {
		t.Errorf("running off: %v", err)
	}
	domain := func(x, g []float64, h *mat.SymDense) float64 {
		if x[0] <= 0 {
			return math.Inf(-1)
		}
		g[0] = 1/x[0] - 3
		h.SetSym(0, 0, -1/(x[0]*x[0]))
		return math.Log(x[0]) - 3*x[0]
	}
	top, err := numeric.Maximise(domain, []float64{4}, wide(1))
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "x", top.X[0], 1./3, numtest.Tolerance{Abs: 1e-9})
	if _, err := numeric.Maximise(domain, []float64{-1}, wide(1)); !errors.Is(err, numeric.ErrNotConverged) {
		t.Errorf("a start outside the domain: %v", err)
	}
}
