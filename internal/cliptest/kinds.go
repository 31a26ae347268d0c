package cliptest

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Wide is a camera in a housing: 80° across in air, with distortion and a port.
func Wide(w, h int) Lens {
	f := 0.6 * float64(w)
	return Lens{
		WidthPx: w, HeightPx: h, FxPx: f, FyPx: 1.002 * f, CxPx: 0.497 * float64(w), CyPx: 0.508 * float64(h),
		K1: -0.11, K2: 0.035, K3: -0.004, P1: 0.0006, P2: -0.0004,
		Port: &Port{AirGapM: 0.018, GlassM: 0.006, GlassIndex: 1.49, WaterIndex: 1.34},
	}
}

// Base is a plate of 0.8 by 0.5 m with twelve marks on it, seen from 1.1 m by a
// camera that is not quite straight, in rather clear water.
func Base(w, h int, times []float64, seed uint64) *Scene {
	s := &Scene{
		Name: "plate", Note: "Invented: rendered by Brinefield's own test code, with a known truth.", Seed: seed, Lens: Wide(w, h), Times: times,
		Poses:  []Posed{{0, Stand{V{0.03, -0.05, 1.12}, 96, 6, -2.5}}},
		Plates: []Plate{{SizeM: [2]float64{0.8, 0.5}, Light: 0.33}}, ShadowM: [2]float64{0.35, -0.2},
		Texture: 1, MurkPerM: 0.18, Veil: 0.42, NoiseSD: 1.5,
	}
	for i := range 4 {
		for j := range 3 {
			s.Marks = append(s.Marks, Disc{
				Name: fmt.Sprintf("mark %d", len(s.Marks)+1), At: V{-0.36 + 0.24*float64(i), -0.21 + 0.21*float64(j), 0}, RadiusM: 0.012, Light: 0.95,
			})
		}
	}
	return s
}

// Swim is a straight swim that bends to its left by turn (radians) about halfway.
func Swim(times []float64, from V, headingDeg, speed, turn float64) Path {
	var p Path
	last := times[len(times)-1]
	at, heading := from, headingDeg*math.Pi/180
	const dt = 1.0 / 60
	for t := 0.0; t < last+2*dt; t += dt {
		p.T, p.P = append(p.T, t), append(p.P, at)
		h := heading + turn*smooth(0.45*last, 0.7*last, t)
		at = at.add(V{speed * dt * math.Cos(h), speed * dt * math.Sin(h), 0})
	}
	return p
}

// Shark is as long as a small catshark.
func Shark(name string, path Path, dotM float64) Animal {
	return Animal{Name: name, LengthM: 0.42, HeadWidthM: 0.055, Path: path, DotM: dotM, Light: 0.27}
}

// Skate is a ray.
func Skate(name string, path Path, dotM float64) Animal {
	return Animal{Name: name, Ray: true, LengthM: 0.4, HeadWidthM: 0.05, DiscWidthM: 0.26, Path: path, DotM: dotM, Light: 0.24}
}

// One shark passes over the plate and turns.
func One(w, h int, times []float64) *Scene {
	s := Base(w, h, times, 41)
	s.Animals = []Animal{Shark("shark", Swim(times, V{-0.28, -0.16, 0.09}, 15, 0.36/times[len(times)-1], 0.9), 0.008)}
	return s
}

// Two animals at once, one above the other's height.
func Two(w, h int, times []float64) *Scene {
	s := Base(w, h, times, 42)
	long := times[len(times)-1]
	s.Animals = []Animal{
		Skate("ray", Swim(times, V{-0.26, 0.13, 0.04}, -8, 0.34/long, -0.7), 0.008),
		Shark("shark", Swim(times, V{0.3, -0.19, 0.16}, 170, 0.4/long, -0.5), 0.008),
	}
	return s
}

// Knocked is One whose camera is pushed aside in the middle of the clip.
func Knocked(w, h int, times []float64) *Scene {
	s := One(w, h, times)
	s.Poses = append(s.Poses, Posed{len(times) / 2, Stand{V{0.07, -0.03, 1.1}, 91, 8.5, 1}})
	return s
}

// Night is One by the camera's own lamp, in murky water.
func Night(w, h int, times []float64) *Scene {
	s := One(w, h, times)
	s.MurkPerM, s.Veil, s.Lamp, s.Gain, s.NoiseSD = 0.6, 0.16, 0.8, 0.6, 2.5
	return s
}

// Uneven are times of a variable rate: 1/25 s, now and then half or twice of it.
func Uneven(n int) []float64 {
	out := make([]float64, n)
	for i := 1; i < n; i++ {
		step := 0.04 + 0.004*math.Sin(float64(i))
		if i%7 == 3 {
			step = 0.02
		} else if i%11 == 5 {
			step = 0.056
		}
		out[i] = out[i-1] + math.Round(step*90000)/90000
	}
	return out
}

// Gap leaves frames from and up to to out of times.
func Gap(times []float64, from, to int) []float64 {
	return slices.Delete(slices.Clone(times), from, to)
}

// Kinds are the small clips that [Make] can make.
var Kinds = []string{"one", "two", "knocked", "chapters", "gap", "rotated", "night", "variable", "long-gop"}

// Make makes a small clip, 320 × 240 and 48 frames or fewer, and beside it its
// truth as JSON. Its files are path, and where it has chapters path with 2 put
// before the ending; all their names come back.
func Make(kind, path string) (files []string, truth *Truth, err error) {
	times := Constant(48, 25)
	if kind == "variable" {
		times = Uneven(48)
	}
	if kind == "gap" {
		times = Gap(times, 20, 26)
	}
	w, h := 320, 240
	e := Encoding{}
	var s *Scene
	switch kind {
	case "one", "variable", "chapters", "gap":
		s = One(w, h, times)
	case "long-gop": // a browser cannot step back through this quickly
		s, e = One(w, h, times), Encoding{GOP: 250, BFrames: 2}
	case "two":
		s = Two(w, h, times)
	case "knocked":
		s = Knocked(w, h, times)
	case "night":
		s = Night(w, h, times)
	case "rotated":
		s, e = One(240, 320, times), Encoding{RotationDeg: 90}
		s.Poses[0].Stand.HeadingDeg, s.Poses[0].Stand.Centre[2] = 2, 1.4
	default:
		return nil, nil, fmt.Errorf("there is no kind %q; there are %s", kind, strings.Join(Kinds, ", "))
	}
	s.Name = strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	truth = s.Truth()
	files = []string{path}
	if kind == "chapters" {
		second := strings.TrimSuffix(path, filepath.Ext(path)) + "2" + filepath.Ext(path)
		files, truth.Chapters = append(files, second), []int{30, len(times) - 30}
	}
	from := 0
	for i, f := range files {
		if err := s.Write(f, e, from, from+truth.Chapters[i]); err != nil {
			return nil, nil, err
		}
		from += truth.Chapters[i]
	}
	return files, truth, truth.Write(strings.TrimSuffix(path, filepath.Ext(path)) + ".truth.json")
}

// Write keeps the truth as JSON.
func (t *Truth) Write(path string) error {
	data, err := json.MarshalIndent(t, "", " ")
	if err != nil {
		return err
	}
	return os.WriteFile(path, append(data, '\n'), 0o600)
}
