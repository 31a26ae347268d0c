package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime/debug"
	"sync"
	"sync/atomic"

	"brinefield/core/conduction"
)

// engine is a solution that can be asked at any place, for the scene's one
// ampere, in the field frame.
type engine interface {
	FieldAt(p conduction.Point) (conduction.Vector, error)
	PotentialAt(p conduction.Point) (float64, error)
	RelativeError() float64
	Method() string
}

// solved is the engine's work on one scene. It is safe for concurrent use.
type solved struct {
	engine
	reached bool
	layers  *conduction.Solution // where nothing is in the way of the current

	mu     sync.Mutex
	tables []regionTable // of the layers, the last few that were asked for
}

type regionTable struct {
	region conduction.Region
	field  *conduction.FastField
}

// keptTables is how many tables a solution of layers keeps.
const keptTables = 6

// solve is the engine's work, without the cache. It ends early with
// [conduction.ErrStopped] when stop says so.
func (s *scene) solve(stop func() bool) (*solved, error) {
	if !s.solid() {
		layers, err := conduction.Solve(s.medium, s.electrodes, conduction.Options{})
		if err != nil {
			return nil, engineFault(err)
		}
		return &solved{engine: layers, reached: true, layers: layers}, nil
	}
	work := s.solvePlates
	if len(s.bodies) > 0 {
		work = s.solveBodies
	}
	found, err := work(conduction.PlateOptions{RelativeTolerance: s.tolerance, Stop: stop})
	if err != nil {
		return nil, engineFault(err)
	}
	if finite(found.RelativeError()) == nil {
		return nil, fmt.Errorf("the error of the field round plates and bodies cannot be judged: %w", conduction.ErrNotFinite)
	}
	return &solved{engine: found, reached: found.Reached()}, nil
}

// judgedEngine is an engine that was asked for a tolerance.
type judgedEngine interface {
	engine
	Reached() bool
}

func (s *scene) solvePlates(opt conduction.PlateOptions) (judgedEngine, error) {
	return conduction.SolveOnPlates(s.medium, s.plates, s.electrodes, opt)
}

func (s *scene) solveBodies(opt conduction.PlateOptions) (judgedEngine, error) {
	shapes := map[string]conduction.BodyShape{bodyBox: conduction.BodyBox, bodyCylinder: conduction.BodyCylinder, bodySpheroid: conduction.BodySpheroid}
	bodies := make([]conduction.Body, len(s.bodies))
	for i := range s.bodies {
		b := &s.bodies[i]
		bodies[i] = conduction.Body{
			Shape: shapes[b.Shape], Centre: s.field(b.CentreM), SizeM: [3]float64(b.SizeM),
			YawDeg: b.YawDeg, PitchDeg: b.PitchDeg, SPerM: b.conductivity(), Label: b.Label,
		}
	}
	return conduction.SolveWithBodies(s.medium, s.plates, bodies, s.electrodes, opt)
}

// asker is how a solution is asked for one field.
type asker func(p conduction.Point) (conduction.Vector, error)

// fieldIn is how the field is asked quickly within a region, and to what
// error: of layers through a table that only the region determines, of plates
// and bodies as they are.
func (v *solved) fieldIn(r conduction.Region) (asker, float64, error) {
	if v.layers == nil {
		return v.FieldAt, v.RelativeError(), nil
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	for _, t := range v.tables {
		if t.region == r {
			return t.field.FieldAt, t.field.RelativeError(), nil
		}
	}
	fast, err := v.layers.Fast(r, tableTolerance)
	if err != nil {
		return nil, 0, engineFault(err)
	}
	if len(v.tables) == keptTables {
		v.tables = append(v.tables[:0:0], v.tables[1:]...)
	}
	v.tables = append(v.tables, regionTable{r, fast})
	return fast.FieldAt, fast.RelativeError(), nil
}

// tableTolerance is the |δE|/|E| that a table of layers may have: nothing of it
// is seen in six digits of a picture.
const tableTolerance = 1e-6

// regionOf is the region of a table for places up to a horizontal distance
// from the lead pair's centre and between two heights of the season frame. Its
// size grows by steps, so that a picture that is moved a little finds its table
// made.
func (s *scene) regionOf(rhoM, lowestM, highestM float64) *conduction.Region {
	lowestM, highestM = lowestM+s.topM, highestM+s.topM
	spread := 0.0
	for _, e := range s.electrodes {
		spread = math.Max(spread, math.Hypot(e.At.X-s.lead.centre.X, e.At.Y-s.lead.centre.Y))
	}
	r := conduction.Region{RhoMaxM: inSteps(rhoM + spread), ZMaxM: inSteps(math.Max(highestM, 0.05))}
	if lowestM < 0 {
		r.ZMinM = -inSteps(-lowestM)
	}
	r.ZMaxM = math.Min(r.ZMaxM, s.medium.DepthM)
	return &r
}

// inSteps is the least of 0.05 m · 1.25ⁿ that is no less.
func inSteps(v float64) float64 {
	const least, ratio = 0.05, 1.25
	if v <= least {
		return least
	}
	return least * math.Pow(ratio, math.Ceil(math.Log(v/least)/math.Log(ratio)-1e-9))
}

// fieldChunk is how many places are asked for in one go.
const fieldChunk = 128

// fields sets dst to the field at places of the field frame, for the current
// of the scene, in V/m, on all cores; not a number where there is none.
func (s *scene) fields(ctx context.Context, ask asker, dst []conduction.Vector, points []conduction.Point) error {
	chunks := (len(points) + fieldChunk - 1) / fieldChunk
	inParallel(chunks, func(i int) {
		if ctx.Err() != nil {
			return
		}
		for k := i * fieldChunk; k < min(len(points), (i+1)*fieldChunk); k++ {
			e, err := ask(points[k])
			if err != nil {
				dst[k] = conduction.Vector{X: math.NaN(), Y: math.NaN(), Z: math.NaN()}
				continue
			}
			dst[k] = e.Scale(s.currentA)
		}
	})
	return ctx.Err()
}

// keptSolutions is how many settings of the knobs stay solved.
const keptSolutions = 8

// solutions are the last solutions, and those that are being worked out.
type solutions struct {
	mu      sync.Mutex
	entries []*solution // least recently used first
	made    int         // how many were begun
	working atomic.Int64
}

type solution struct {
	key     string
	done    chan struct{}
	stop    atomic.Bool
	waiting int // requests that still want it; of solutions.mu
	value   *solved
	err     error
}

// of gives the solution of a scene. Who asks for what is being worked out
// waits for it; when nobody waits any more the work stops.
func (c *solutions) of(ctx context.Context, s *scene) (*solved, error) {
	for {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		e := c.join(s)
		select {
		case <-e.done:
			c.leave(e)
			if errors.Is(e.err, conduction.ErrStopped) {
				continue // stopped for others who went away
			}
			return e.value, e.err
		case <-ctx.Done():
			c.leave(e)
			return nil, ctx.Err()
		}
	}
}

func (c *solutions) join(s *scene) *solution {
	key := s.key()
	c.mu.Lock()
	defer c.mu.Unlock()
	for i, e := range c.entries {
		if e.key == key && !e.stop.Load() {
			c.entries = append(append(c.entries[:i:i], c.entries[i+1:]...), e)
			e.waiting++
			return e
		}
	}
	e := &solution{key: key, done: make(chan struct{}), waiting: 1}
	c.entries = append(c.entries, e)
	c.made++
	c.working.Add(1)
	go func() {
		defer close(e.done)
		defer c.working.Add(-1)
		defer func() {
			if p := recover(); p != nil {
				e.err = fmt.Errorf("working out the field broke off, which is a fault of this program: %v\n%s", p, debug.Stack())
			}
		}()
		e.value, e.err = s.solve(e.stop.Load)
	}()
	return e
}

// leave lets go of a solution: one that nobody wants is stopped, one that
// failed is forgotten, and of the rest the last few are kept.
func (c *solutions) leave(e *solution) {
	c.mu.Lock()
	defer c.mu.Unlock()
	e.waiting--
	finished := isClosed(e.done)
	if !finished && e.waiting == 0 {
		e.stop.Store(true)
	}
	kept, idle := c.entries[:0:0], 0
	for i := len(c.entries) - 1; i >= 0; i-- {
		o := c.entries[i]
		drop := o == e && (e.stop.Load() || finished && e.err != nil)
		if !drop && o.waiting == 0 {
			idle++
			drop = idle > keptSolutions
		}
		if !drop {
			kept = append([]*solution{o}, kept...)
		}
	}
	c.entries = kept
}

func isClosed(done <-chan struct{}) bool {
	select {
	case <-done:
		return true
	default:
		return false
	}
}
