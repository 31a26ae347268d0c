package reach

import (
	"math"

	"brinefield/core/conduction"
)

// probe is one direction of one ring at one threshold.
type probe struct {
	sheet *sheet
	dir   float64 // angle
	logX  float64
	*crossing
}

// ringsOf fills in the rings of each range from the surveyed sheets (nil where
// a height lies outside the water), and asks the field itself where the
// polynomials are not sure.
func (a *asker) ringsOf(sheets []*sheet, ranges []Range, s Search, tol float64) error {
	logs := make([]float64, len(ranges))
	for n := range ranges {
		logs[n] = math.Log(ranges[n].ThresholdVPerM)
		ranges[n].Rings = make([]Ring, len(s.HeightsM))
	}
	found := make([][][]crossing, len(sheets)) // by ring, threshold, direction
	for r, sh := range sheets {
		found[r] = make([][]crossing, len(ranges))
		areas, unsure := make([]float64, len(ranges)), make([]float64, len(ranges))
		if sh != nil {
			areas = sh.rounds(logs, found[r], s.Directions, fieldPerDistance*tol)
			unsure = sh.unsure(ranges, fieldPerDistance*tol)
		}
		for n := range ranges {
			ranges[n].Rings[r] = Ring{HeightM: s.HeightsM[r], AreaM2: areas[n], UnsureM2: unsure[n]}
		}
	}
	if err := a.sure(sheets, found, ranges, logs, tol); err != nil {
		return err
	}
	for r := range sheets {
		for n := range ranges {
			ring := &ranges[n].Rings[r]
			ring.FarthestM, ring.NearestM = math.NaN(), math.NaN()
			ring.ByDirectionM = make([]float64, s.Directions)
			for k := range ring.ByDirectionM {
				rho := math.NaN()
				if found[r][n] != nil {
					c := found[r][n][k]
					rho = c.rho
					ranges[n].Beyond = ranges[n].Beyond || c.beyond
				}
				ring.ByDirectionM[k] = rho
				if !(rho <= ring.FarthestM) && !math.IsNaN(rho) {
					ring.FarthestM = rho
				}
				if !(rho >= ring.NearestM) && !math.IsNaN(rho) {
					ring.NearestM = rho
				}
			}
		}
	}
	return nil
}

// rounds goes out along many directions. It sets found[threshold] to the
// crossings of those asked for and returns the areas, ½∮ρ²dα: Simpson's rule,
// on halved angles where an island begins or ends.
func (sh *sheet) rounds(logs []float64, found [][]crossing, directions int, tol float64) []float64 {
	every := (fewestLines + directions - 1) / directions
	n := every * directions
	o := &outline{sheet: sh, blocks: sh.blocks(tol), logs: logs, last: make([]crossing, len(logs))}
	for t := range found {
		found[t] = make([]crossing, directions)
	}
	at := func(k int) float64 { return float64(k) / float64(2*n) * round }
	swept := make([][]float64, 2*n+1) // every second is a middle
	o.areas, o.allowed = make([]float64, len(logs)), make([]float64, len(logs))
	for k := range 2 * n {
		swept[k] = o.swept(at(k))
		for t := range logs {
			if k%(2*every) == 0 {
				found[t][k/(2*every)] = o.last[t]
			}
			o.allowed[t] += areaTolerance * swept[k][t] / float64(2*n) * round
		}
	}
	swept[2*n] = swept[0]
	o.left = mostLines
	for k := 0; k < 2*n; k += 2 {
		o.simpson(at(k), at(k+2), swept[k], swept[k+1], swept[k+2], deepest)
	}
	for t := range o.areas {
		o.areas[t] *= 2 * math.Pi / round
	}
	return o.areas
}

const (
	fewestLines   = 72   // round the centre; as many lie between them
	mostLines     = 1500 // further ones for one ring
	deepest       = 9    // halvings
	areaTolerance = 2e-5 // of the area, for one angle
)

// outline is the sum over a ring's directions. Angles are in units of the lattice.
type outline struct {
	*sheet
	blocks         []block
	logs           []float64
	line           []stretch
	last           []crossing
	areas, allowed []float64 // by threshold
	left           int       // lines
}

// swept goes out along one direction.
func (o *outline) swept(j float64) []float64 {
	o.line = lineAt(o.blocks, j, o.line[:0])
	swept := make([]float64, len(o.logs))
	o.along(o.line, o.logs, o.last, swept)
	return swept
}

// simpson adds the areas between two directions.
func (o *outline) simpson(from, to float64, a, mid, b []float64, depth int) {
	wide := to - from
	if depth > 0 && o.left > 1 {
		o.left -= 2
		l, r := o.swept(from+wide/4), o.swept(from+wide*3/4)
		good := true
		for t := range o.logs {
			once := wide / 6 * (a[t] + 4*mid[t] + b[t])
			twice := wide / 12 * (a[t] + 4*l[t] + 2*mid[t] + 4*r[t] + b[t])
			good = good && math.Abs(twice-once) <= o.allowed[t]
		}
		if !good {
			o.simpson(from, from+wide/2, a, l, mid, depth-1)
			o.simpson(from+wide/2, to, mid, r, b, depth-1)
			return
		}
		for t := range o.areas {
			o.areas[t] += wide / 12 * (a[t] + 4*l[t] + 2*mid[t] + 4*r[t] + b[t])
		}
		return
	}
	for t := range o.areas {
		o.areas[t] += wide / 6 * (a[t] + 4*mid[t] + b[t])
	}
}

// unsure returns, for each range, about how far off its area may be: of the
// cells that are not good to tol, the share in which the field is closer to the
// threshold than the cell's error.
func (sh *sheet) unsure(ranges []Range, tol float64) []float64 {
	out := make([]float64, len(ranges))
	for _, c := range sh.cells {
		if c.dark || c.bright || max(c.errI, c.errJ) <= tol {
			continue
		}
		outer := math.Min(sh.rho(float64(c.i+c.di)), sh.most)
		node := (sq(outer) - sq(sh.rho(float64(c.i)))) / 2 * angle(float64(c.dj)) / ((degree + 1) * (degree + 1))
		for n := range ranges {
			x := ranges[n].ThresholdVPerM
			if !c.concerns([]float64{x}) {
				continue
			}
			for m := range int32(degree + 1) {
				for k := range int32(degree + 1) {
					i := c.i + m*c.di/degree
					e := sh.scaled(i, c.j+k*c.dj/degree).Norm() / sh.weight(i)
					if c.none || math.Abs(e-x) <= max(c.errI, c.errJ)*math.Max(e, x) {
						out[n] += node
					}
				}
			}
		}
	}
	return out
}

// samples is how many directions of each ring and threshold are asked again.
const samples = 4

// sure asks the field itself: at a sample of the crossings, to measure their
// error, and for all those that a polynomial is not good enough for.
func (a *asker) sure(sheets []*sheet, found [][][]crossing, ranges []Range, logs []float64, tol float64) error {
	var asked, polish []*probe
	var of [][2]int // ring and threshold of each asked
	for r, sh := range sheets {
		for n := range ranges {
			var good []*probe
			for k := range found[r][n] {
				p := &probe{sheet: sh, dir: 2 * math.Pi * float64(k) / float64(len(found[r][n])), logX: logs[n], crossing: &found[r][n][k]}
				switch {
				case math.IsNaN(p.rho):
				case p.rough:
					polish = append(polish, p)
				case !p.beyond:
					good = append(good, p)
				}
			}
			for k := range min(samples, len(good)) {
				asked, of = append(asked, good[k*len(good)/min(samples, len(good))]), append(of, [2]int{r, n})
			}
		}
	}
	points := make([]conduction.Point, len(asked))
	for k, p := range asked {
		points[k] = p.point(p.rho)
	}
	real, err := a.logs(points)
	if err != nil {
		return err
	}
	bad := map[[2]int]bool{}
	errs := map[[2]int]float64{}
	for k, p := range asked {
		e := math.Abs(real[k]-p.logX) / math.Max(math.Abs(p.slope), 0.1)
		errs[of[k]] = math.Max(errs[of[k]], e)
		bad[of[k]] = bad[of[k]] || !(e <= tol)
	}
	for r, sh := range sheets {
		for n := range ranges {
			at := [2]int{r, n}
			if !bad[at] {
				ranges[n].RelativeError = math.Max(ranges[n].RelativeError, errs[at])
				continue
			}
			for k := range found[r][n] {
				if c := &found[r][n][k]; !c.rough && !math.IsNaN(c.rho) {
					polish = append(polish, &probe{sheet: sh, dir: 2 * math.Pi * float64(k) / float64(len(found[r][n])), logX: logs[n], crossing: c})
				}
			}
		}
	}
	if len(polish) == 0 {
		return nil
	}
	for n := range ranges {
		ranges[n].RelativeError = math.Max(ranges[n].RelativeError, tol)
	}
	return a.polish(polish, tol)
}

func (p *probe) point(rho float64) conduction.Point {
	sin, cos := math.Sincos(p.dir)
	c := p.sheet.centre
	return conduction.Point{X: c.X + rho*cos, Y: c.Y + rho*sin, Z: p.sheet.z}
}

// polish seeks crossings in the field itself: close to where the polynomial has
// them, else in the stretch round it, and where they are not there on the
// whole line.
func (a *asker) polish(probes []*probe, tol float64) error {
	hunts, missed, err := a.close(probes, tol)
	if err != nil {
		return err
	}
	more, missed, err := a.scan(missed, 9, tol, func(p *probe) (from, to float64) {
		wide := (p.to - p.from) / 2
		return math.Max(p.from-wide, 0), math.Min(p.to+wide, p.sheet.sMax)
	})
	if err != nil {
		return err
	}
	hunts = append(hunts, more...)
	more, _, err = a.scan(missed, 300, tol, func(p *probe) (from, to float64) { return 0, p.sheet.sMax })
	if err != nil {
		return err
	}
	hunts = append(hunts, more...)
	all := make([]*hunt, len(hunts))
	for k := range hunts {
		all[k] = hunts[k].hunt
	}
	if err := a.solve(all); err != nil {
		return err
	}
	for _, h := range hunts {
		h.rho = h.in
	}
	return nil
}

// close starts a hunt between two places on either side of the polynomial's
// crossing, and returns as missed the probes whose crossing is not between them,
// or belongs to an island that is thin after all.
func (a *asker) close(probes []*probe, tol float64) (hunts []probed, missed []*probe, err error) {
	var points []conduction.Point
	wide := math.Max(2*tol, 0.003)
	for _, p := range probes {
		points = append(points, p.point(p.rho*(1-thin)), p.point(p.rho*(1-wide)), p.point(math.Min(p.rho*(1+wide), p.sheet.most)))
	}
	logs, err := a.logs(points)
	if err != nil {
		return nil, nil, err
	}
	for k, p := range probes {
		before, gIn, gOut := logs[3*k]-p.logX, logs[3*k+1]-p.logX, logs[3*k+2]-p.logX
		if p.beyond || !(before >= 0 && gIn >= 0 && gOut < 0) {
			missed = append(missed, p)
			continue
		}
		hunts = append(hunts, p.hunt(p.rho*(1-wide), math.Min(p.rho*(1+wide), p.sheet.most), gIn, gOut, tol))
	}
	return hunts, missed, nil
}

// hunt starts the search between two places on the probe's line.
func (p *probe) hunt(in, out, gIn, gOut, tol float64) probed {
	sin, cos := math.Sincos(p.dir)
	line := ray{p.point(0), conduction.Vector{X: cos, Y: sin}}
	return probed{p, &hunt{ray: line, logX: p.logX, in: in, out: out, gIn: gIn, gOut: gOut, tol: tol * out}}
}

// outermost returns the last sample of the outermost island that is not thin,
// −1 where there is none. One that is cut off by the first sample counts.
func outermost(rho, g []float64, logX float64) int {
	for m := len(rho) - 1; m >= 0; m-- {
		if g[m] < logX {
			continue
		}
		k := m // to the first sample of its island
		for k > 0 && g[k-1] >= logX {
			k--
		}
		if k == 0 || m == len(rho)-1 || !isThin((rho[k]+rho[k-1])/2, (rho[m]+rho[m+1])/2) {
			return m
		}
		m = k
	}
	return -1
}

// probed is a hunt for a probe's crossing.
type probed struct {
	*probe
	*hunt
}

// scan asks n places evenly in s along each probe's line, and starts a hunt at
// the end of the outermost island that is not thin. Probes without
// one, or with the end of their stretch above, are returned as missed, with
// the crossing that the scan of a whole line shows.
func (a *asker) scan(probes []*probe, n int, tol float64, between func(*probe) (from, to float64)) ([]probed, []*probe, error) {
	var points []conduction.Point
	rhos := make([]float64, 0, n*len(probes))
	for _, p := range probes {
		from, to := between(p)
		for k := range n {
			rho := math.Min(p.sheet.a*math.Sinh(from+(to-from)*float64(k)/float64(n-1)), p.sheet.most)
			rhos, points = append(rhos, rho), append(points, p.point(rho))
		}
	}
	logs, err := a.logs(points)
	if err != nil {
		return nil, nil, err
	}
	var hunts []probed
	var missed []*probe
	for k, p := range probes {
		g, rho := logs[k*n:(k+1)*n], rhos[k*n:(k+1)*n]
		m := outermost(rho, g, p.logX)
		p.beyond = m == n-1 && rho[m] >= p.sheet.most
		switch {
		case m < 0:
			p.rho = math.NaN()
			missed = append(missed, p)
		case m == n-1:
			p.rho = rho[m]
			if !p.beyond {
				missed = append(missed, p)
			}
		default:
			hunts = append(hunts, p.hunt(rho[m], rho[m+1], g[m]-p.logX, g[m+1]-p.logX, tol))
		}
	}
	return hunts, missed, nil
}
