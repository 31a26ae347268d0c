package cliptest

// Scene is all that a clip shows.
type Scene struct {
	Name   string
	Note   string // what is invented, for the file itself
	Seed   uint64
	Lens   Lens
	Poses  []Posed // the first from frame 0
	Times  []float64
	Marks  []Disc
	Plates []Plate
	Cables []Cable

	Animals []Animal
	// ShadowM is how far a shadow falls from what stands 1 m high; 0, 0: none.
	ShadowM [2]float64

	Texture float64 // of the bottom: 1 is sand with ripples and grit, 0 is flat
	// MurkPerM is how fast contrast falls with the way through water, and Veil the
	// light that the water sends instead.
	MurkPerM float64
	Veil     float64
	// Lamp: the camera's own light, brightest in the middle (night); 0 to 1.
	Lamp float64
	// Gain of the picture; 0 is 1.
	Gain    float64
	NoiseSD float64 // of the sensor, in levels of 8 bits
	// Flash brightens the picture from and to these frames: a torch that is switched on.
	Flash [2]int
}

// Posed is a stand from a frame on.
type Posed struct {
	FromFrame int   `json:"from_frame"`
	Stand     Stand `json:"stand"`
}

// Constant are the times of n frames at a constant rate.
func Constant(n int, rateHz float64) []float64 {
	t := make([]float64, n)
	for i := range t {
		t[i] = float64(i) / rateHz
	}
	return t
}

// Truth is where everything is in every frame.
type Truth struct {
	Clip     string     `json:"clip"`
	Note     string     `json:"note"`
	Camera   Lens       `json:"camera"`
	Poses    []Posed    `json:"poses"`
	Marks    []MarkSeen `json:"marks"`
	Frames   []Frame    `json:"frames"`
	Chapters []int      `json:"chapters"` // frames of each file
}

// MarkSeen is a mark and where it is seen from each pose; null where it is not.
type MarkSeen struct {
	Name   string        `json:"name"`
	AtM    V             `json:"at_m"`
	Pixels []*[2]float64 `json:"pixels"`
}

// Frame is what is seen at a time.
type Frame struct {
	ClipS   float64 `json:"clip_s"`
	Animals []Seen  `json:"animals"`
}

// Seen is an animal in a frame: its points by the project's words.
type Seen struct {
	Name   string               `json:"name"`
	Points map[string]PointSeen `json:"points"`
}

// PointSeen is a place and the pixel at which it is seen.
type PointSeen struct {
	AtM   V          `json:"at_m"`
	Pixel [2]float64 `json:"pixel"`
}

// PoseOf a frame.
func (s *Scene) PoseOf(frame int) int {
	k := 0
	for k+1 < len(s.Poses) && s.Poses[k+1].FromFrame <= frame {
		k++
	}
	return k
}

// Truth works out where everything is; points that cannot be seen in the picture
// are left out.
func (s *Scene) Truth() *Truth {
	t := &Truth{Clip: s.Name, Note: s.Note, Camera: s.Lens, Poses: s.Poses, Chapters: []int{len(s.Times)}}
	views := make([]*view, len(s.Poses))
	for i := range s.Poses {
		views[i] = newView(&s.Lens, s.Poses[i].Stand)
	}
	for i := range s.Marks {
		m := MarkSeen{Name: s.Marks[i].Name, AtM: s.Marks[i].At}
		for _, v := range views {
			m.Pixels = append(m.Pixels, s.inPicture(v, s.Marks[i].At))
		}
		t.Marks = append(t.Marks, m)
	}
	for k, when := range s.Times {
		f := Frame{ClipS: when, Animals: []Seen{}}
		for i := range s.Animals {
			a := &s.Animals[i]
			if !a.present(when) {
				continue
			}
			seen := Seen{Name: a.Name, Points: map[string]PointSeen{}}
			for name, at := range a.at(when).Points() {
				if p := s.inPicture(views[s.PoseOf(k)], at); p != nil {
					seen.Points[name] = PointSeen{at, *p}
				}
			}
			f.Animals = append(f.Animals, seen)
		}
		t.Frames = append(t.Frames, f)
	}
	return t
}

func (s *Scene) inPicture(v *view, at V) *[2]float64 {
	x, y, err := v.pixel(at)
	if err != nil || x < -0.5 || y < -0.5 || x > float64(s.Lens.WidthPx)-0.5 || y > float64(s.Lens.HeightPx)-0.5 {
		return nil
	}
	return &[2]float64{x, y}
}
