package conduction

import "math"

// sizes are the cells on the shorter side of a plate, mesh by mesh.
var sizes = [...]int{8, 12, 16, 24, 32, 44}

// windows are how far round a probe facets count in nine, in their diagonals.
var windows = [len(sizes)]float64{3, 3, 3, 4, 5, 6}

// newStage lays out mesh number level of plates and bodies for some electrodes.
func newStage(m Medium, st *stack, plates []Plate, floor []bool, bodies []*solid, where *located, level int) *stage {
	lo, hi, reach := math.Inf(1), math.Inf(-1), 0.0
	for _, pl := range plates {
		lo, hi = math.Min(lo, pl.TopM-pl.ThicknessM), math.Max(hi, pl.TopM)
		reach = math.Max(reach, 2*pl.extent())
	}
	for _, b := range bodies {
		l, h := b.heights()
		lo, hi = math.Min(lo, l), math.Max(hi, h)
		reach = math.Max(reach, 4*b.around())
	}
	s := &stage{st: st, near: newEchoes(st, lo, hi, reach)}
	if len(bodies) > 0 { // plates alone leave all of the walls to their grids, and the estimate counts it
		s.listWalls(m, roomsOf(plates, bodies))
	}
	s.rests = newRestMaker(m, st, s.listed())
	for k := range plates {
		pl := &plates[k]
		s.bodies = append(s.bodies, s.newBody(pl, floor[k], where, k, sizes[level], windows[level]))
		s.nodes = append(s.nodes, s.nodesIn(m, pl, func(i int, slab slab) nodes {
			return newNodes(*pl, i, slab, s.nodesASide(m, pl, level))
		}))
	}
	for _, b := range bodies {
		k := newSkin(st, b, bodyMeshes[level], s.near, makersRound(st, b, bodies, plates, where))
		if k == nil {
			continue
		}
		s.bodies = append(s.bodies, k)
		room := b.room()
		s.nodes = append(s.nodes, s.nodesIn(m, &room, func(i int, slab slab) nodes {
			return newBodyNodes(room, i, slab, s.nodesASide(m, &room, level))
		}))
	}
	return s
}

// slabUnder is the slab in which a sheet at height z counts.
func slabUnder(st *stack, z float64) int {
	i, ok := st.slabAt(z - onFace)
	if !ok {
		i, _ = st.slabAt(z)
	}
	return i
}

// extent is the plate's longest horizontal line.
func (pl *Plate) extent() float64 {
	if pl.DiameterM > 0 {
		return pl.DiameterM
	}
	return math.Hypot(pl.SizeXM, pl.SizeYM)
}

// nodesASide is how fine the grid must be for what is not listed.
func (s *stage) nodesASide(m Medium, pl *Plate, level int) int {
	most, digits, rate := 9.0, math.Log(3e4)+float64(level), 1.5
	if e := m.Enclosure; e != nil {
		digits, rate = digits+1, wallRate
		if e.DiameterM > 0 { // whose sums are quick
			most = 12
		}
	}
	return int(math.Min(math.Max(math.Ceil(digits/s.smoothness(m, pl)/rate), 3), most))
}

// smoothness is the logarithm of the Bernstein ellipse over the plate in which what is
// not listed has no source.
func (s *stage) smoothness(m Medium, pl *Plate) float64 {
	gap := 2 * pl.extent()
	for j := range s.near {
		for i := range s.near[j] {
			if r := s.listedReach(j, i); r < gap {
				gap = r
			}
		}
	}
	if e := m.Enclosure; e != nil {
		gap = math.Min(gap, math.Max(2*pl.wallRoom(e), s.clear))
	}
	x := 1 + 2*gap/pl.extent()
	return math.Log(x + math.Sqrt(x*x-1))
}

// wallRate and wallShare: of what walls send back, a grid with n nodes a side leaves
// wallShare·e^(−wallRate·n·smoothness) of the field, beyond the plate too. Measured
// with plates that come within 0.05 to 0.6 of the tank's radius to its wall, with 9
// nodes against 13.
const wallRate, wallShare = 0.93, 7.0

// wallLeft is the error that the grids leave, which no step between meshes shows.
func (s *stage) wallLeft(m Medium, plates []Plate, level int) float64 {
	worst := 0.0
	if m.Enclosure == nil {
		return worst
	}
	for k := range plates {
		pl := &plates[k]
		worst = math.Max(worst, wallShare*math.Exp(-wallRate*float64(s.nodesASide(m, pl, level))*s.smoothness(m, pl)))
	}
	return worst
}

// listedReach is the distance of the farthest listed image, or no bound where the
// images end by themselves.
func (s *stage) listedReach(j, i int) float64 {
	if len(s.near[j][i]) < 20 {
		return math.Inf(1)
	}
	far := 0.0
	for _, o := range s.near[j][i] {
		far = math.Max(far, math.Abs(o.c))
	}
	return far
}

// newBody chooses the surface of a plate.
func (s *stage) newBody(pl *Plate, floor bool, where *located, k, cells int, window float64) body {
	sheet := pl.ThicknessM == 0
	if pl.DiameterM > 0 && sheet {
		return s.newDiscSheet(pl, where, k, cells)
	}
	if pl.DiameterM > 0 {
		return s.newRound(pl, floor, where, k, cells)
	}
	x0, y0, scale := s.crowd(pl, where, k)
	short := math.Min(pl.SizeXM, pl.SizeYM)
	side := func(length, at float64) grade {
		n := 2 * int(math.Ceil(float64(cells)/2*math.Min(math.Pow(length/short, 0.7), 4)))
		return newGrade(n, sheet, 2*at/length, spreadOf(crowded*scale/length, at == 0))
	}
	rows := max(2, int(math.Ceil(float64(cells)*math.Sqrt(pl.ThicknessM/short))))
	return newBoard(s.st, *pl, floor, side(pl.SizeXM, x0), side(pl.SizeYM, y0), rows, s.near, window)
}

// spreadOf is the spread of a grade, or none where the plate's own cells are fine
// enough. A crowd off the middle costs the plate's symmetry, which makes
// finer cells cheaper for longer.
func spreadOf(spread float64, middle bool) float64 {
	if most := 0.35; spread > most && !(middle && spread < 0.6) {
		return 0
	}
	return spread
}

// crowded is the half-width of the dense place in scales of what must be
// resolved there, twice (lengths are halved).
const crowded = 3.0

// crowd is where on the plate, in its own frame, the electrodes lie, and how
// fine the density there is; +Inf where nothing asks for denser cells.
func (s *stage) crowd(pl *Plate, where *located, k int) (x, y, scale float64) {
	n, scale := 0.0, math.Inf(1)
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for i, e := range where.electrodes {
		if where.on[i] != k {
			continue
		}
		u, v := pl.local(e.At.X, e.At.Y)
		n++
		for c, t := range [2]float64{u, v} {
			lo[c], hi[c] = math.Min(lo[c], t), math.Max(hi[c], t)
		}
		scale = math.Min(scale, math.Min(0.6*where.room[i], s.nearestAbove(e.At.Z)))
	}
	if n == 0 {
		return 0, 0, math.Inf(1)
	}
	x, y = (lo[0]+hi[0])/2, (lo[1]+hi[1])/2
	scale = math.Max(scale, math.Hypot(hi[0]-lo[0], hi[1]-lo[1])/2)
	// A crowd in the middle keeps the plate's symmetry.
	if math.Abs(x) < 1e-9*pl.extent() {
		x = 0
	}
	if math.Abs(y) < 1e-9*pl.extent() {
		y = 0
	}
	return x, y, scale
}

// nearestAbove is the distance from a face to the nearest image of an
// electrode on it that stands over the face and counts.
func (s *stage) nearestAbove(z float64) float64 {
	j, _ := s.st.slabAt(z)
	nearest := math.Inf(1)
	for _, o := range s.near[j][j] {
		if d := o.place(z) - z; o.mirrored && d > 1e-9 && math.Abs(o.w) > 0.02 {
			nearest = math.Min(nearest, d)
		}
	}
	return nearest
}

// newRound chooses the surface of a disc. Every number grows with the mesh, so that
// the next one always knows more.
func (s *stage) newRound(pl *Plate, floor bool, where *located, k, cells int) body {
	x, y, scale := s.crowd(pl, where, k)
	n := 2 * cells // over a diameter: rings cost little
	around := 16 + 2*cells
	if out := math.Hypot(x, y); out > 0 { // waves short enough for electrodes off the middle
		grown := float64(cells) / 16
		around = max(around, 4*int(math.Ceil(grown*1.5*2*math.Pi*out/scale/4)))
		n = max(n, 2*int(math.Ceil(grown*3*pl.DiameterM/scale/2)))
	}
	around, n = min(around, 8*cells), min(n, 4*cells)
	rows := max(2, int(math.Ceil(float64(cells)*math.Sqrt(pl.ThicknessM/pl.DiameterM))))
	spread := 0.0
	if x == 0 && y == 0 {
		spread = spreadOf(crowded*scale/pl.DiameterM, true)
	}
	return newRound(s.st, *pl, floor, newGrade(n, false, 0, spread), around, rows, s.near)
}

// newDiscSheet chooses the functions of a disc without thickness.
func (s *stage) newDiscSheet(pl *Plate, where *located, k, cells int) body {
	x, y, scale := s.crowd(pl, where, k)
	fine := math.Max(1, 0.35*pl.DiameterM/scale)
	// The bounds grow with the mesh, so that the next one always knows more.
	count := min(int(math.Ceil(float64(cells)*0.6*fine)), 6+cells)
	mMax := 3 + cells/4
	if out := math.Hypot(x, y); out > 0 {
		mMax = min(mMax+int(math.Ceil(float64(cells)*0.25*out/scale)), 4+3*cells)
	}
	return newSheet(s.st, *pl, mMax, count, s.near)
}
