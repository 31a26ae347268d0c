package conduction

import "math"

// listWalls lists images beyond the walls of a rectangular tank that stand nearer to what
// is in it than that is long. They act exactly; grids of charges, which stand for all
// others, are good only farther off. A round wall has no such images: see [stage.gapLeft].
func (s *stage) listWalls(m Medium, rooms []Plate) {
	e := m.Enclosure
	if e == nil || e.DiameterM > 0 || len(rooms) == 0 {
		return
	}
	var lo, hi [2]float64 // of all that is in the tank
	reach := 0.0
	for i := range rooms {
		for _, c := range rooms[i].corners() {
			for a := range 2 {
				if i == 0 && c == rooms[0].corners()[0] {
					lo[a], hi[a] = c[a], c[a]
				}
				lo[a], hi[a] = math.Min(lo[a], c[a]), math.Max(hi[a], c[a])
			}
		}
		reach = math.Max(reach, math.Max(rooms[i].extent(), rooms[i].ThicknessM))
	}
	size, centre := [2]float64{e.SizeXM, e.SizeYM}, [2]float64{e.CentreXM, e.CentreYM}
	type move struct {
		turned bool
		by     float64
	}
	var moves [2][]move
	for a := range 2 {
		near, far := centre[a]-size[a]/2, centre[a]+size[a]/2
		moves[a] = []move{{}}
		for _, mv := range []move{{true, 2 * near}, {true, 2 * far}, {false, 2 * size[a]}, {false, -2 * size[a]}} {
			from, to := lo[a]+mv.by, hi[a]+mv.by // where the image lies
			if mv.turned {
				from, to = mv.by-hi[a], mv.by-lo[a]
			}
			if math.Max(from-hi[a], lo[a]-to) < reach {
				moves[a] = append(moves[a], mv)
			}
		}
	}
	s.clear = reach
	if len(moves[0])+len(moves[1]) == 2 {
		return
	}
	s.beside, s.all = make(echoes, len(s.near)), make(echoes, len(s.near))
	for j := range s.near {
		s.beside[j], s.all[j] = make([][]echo, len(s.near[j])), make([][]echo, len(s.near[j]))
		for i := range s.near[j] {
			for x, mx := range moves[0] {
				for y, my := range moves[1] {
					if x+y == 0 {
						continue
					}
					side := &sideways{turned: [2]bool{mx.turned, my.turned}, by: [2]float64{mx.by, my.by}}
					for _, o := range s.near[j][i] {
						o.beside = side
						s.beside[j][i] = append(s.beside[j][i], o)
					}
				}
			}
			s.all[j][i] = append(append([]echo(nil), s.near[j][i]...), s.beside[j][i]...)
		}
	}
}

// gapLeft is what grids leave of a body's field between it and a round wall, where the
// wall's answer is seen from close by: 1.5 times what n Chebyshev points leave of a source at the
// wall's distance beside the body's room. (Measured with rectangular walls, before their images were listed: 4 to 8 % with a gap
// of a quarter of the half-width, 2 to 3 % with one half.)
func (s *stage) gapLeft(m Medium, bodies []*solid, level int) float64 {
	worst := 0.0
	if m.Enclosure == nil || m.Enclosure.DiameterM == 0 {
		return worst
	}
	for _, b := range bodies {
		room := b.room()
		t := 2 * room.wallRoom(m.Enclosure) / math.Max(math.Max(room.SizeXM, room.SizeYM), room.ThicknessM)
		t = math.Max(t, 0)
		worst = math.Max(worst, 1.5*math.Pow(t+math.Sqrt(1+t*t), -float64(s.nodesASide(m, &room, level))))
	}
	return worst
}
