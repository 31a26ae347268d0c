package optics

import (
	"testing"

	"brinefield/core/numeric"
)

func benchPose(b *testing.B) (*Posed, []Mark) {
	b.Helper()
	var at []vec
	for i := range 12 {
		at = append(at, vec{float64(i%4)*0.2 - 0.3, float64(i/4)*0.2 - 0.2, 0})
	}
	marks := marksOf(b, bent(), looking(vec{0.3, -0.4, 1.4}, vec{}, 0.3), at, 1, numeric.Stream(1, "bench"))
	p, err := Fit(bent(), marks, 1)
	if err != nil {
		b.Fatal(err)
	}
	return p, marks
}

func BenchmarkFitOfTwelveMarks(b *testing.B) {
	_, marks := benchPose(b)
	for b.Loop() {
		if _, err := Fit(bent(), marks, 1); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLocate(b *testing.B) {
	p, _ := benchPose(b)
	for b.Loop() {
		if _, err := p.Locate([2]float64{800.2, 410}, 0.12, 0.02); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkProject(b *testing.B) {
	p, _ := benchPose(b)
	for b.Loop() {
		if _, err := p.Project([3]float64{0.1, -0.1, 0.12}); err != nil {
			b.Fatal(err)
		}
	}
}
