package calibration

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// alone is a leverage from which on no other reading checks one.
const alone = 1 - 1e-9

// rows says of every reading how it fits, and what the factor would be without
// it. main is the whole fit, base the one of factor and offset alone, whose
// change without one reading is exact in one step because it is linear:
// θ₍ᵢ₎ = θ − C·xᵢ·rᵢ/(1 − hᵢ) (R. D. Cook, Technometrics 19:15–18, 1977), with the
// weights kept.
func rows(main, base *solution, designed float64) []Row {
	out := make([]Row, len(main.residuals))
	se := math.Sqrt(base.covariance.At(0, 0))
	for i := range out {
		r := Row{
			ResidualV: main.residuals[i], SDV: main.sd[i], PlacesV: main.places[i], Leverage: main.leverage[i],
			Standardised: math.NaN(), FactorWithout: math.NaN(), Influence: math.NaN(), OutlierP: math.NaN(),
		}
		r.FittedV = main.x[0] * main.shape[i]
		if offset := len(main.x) - 1; main.hasOffset() {
			r.FittedV += main.x[offset]
		}
		if h := main.leverage[i]; h < alone {
			r.Standardised = main.residuals[i] / (main.sd[i] * math.Sqrt(1-h))
		}
		if h := base.leverage[i]; h < alone {
			moved := base.change(i) / (1 - h)
			r.FactorWithout = (base.x[0] - moved) / designed
			r.Influence = moved / se
			r.OutlierP = base.outlierP(i)
		}
		out[i] = r
	}
	return out
}

func (s *solution) hasOffset() bool {
	if s.free {
		return len(s.x) == 3
	}
	return len(s.x) == 2
}

// change is C·xᵢ·rᵢ of the first parameter. Columns are derivatives of
// measured less fitted, which turns the sign.
func (s *solution) change(i int) float64 {
	row := mat.NewVecDense(len(s.x), nil)
	row.CopyVec(s.columns.RowView(i))
	var moved mat.VecDense
	moved.MulVec(s.covariance, row)
	return -moved.AtVec(0) * s.residuals[i] / (s.sd[i] * s.spread)
}

// outlierP asks whether a reading fits the others, by its residual over the
// scatter of the others (Student's t with one degree of freedom less), as the
// worst of all (Bonferroni). Not a number where too few are left.
func (s *solution) outlierP(i int) float64 {
	left := s.degrees - 1
	if left < 0.5 {
		return math.NaN()
	}
	total, own := 0.0, 0.0
	for j, r := range s.residuals {
		v := r * r / (s.sd[j] * s.sd[j])
		total += v
		if j == i {
			own = v / (1 - s.leverage[j])
		}
	}
	if total == 0 {
		return 1
	}
	others := (total - own) / left
	if own == 0 {
		return 1
	}
	if !(others > 0) {
		return 0
	}
	t := math.Sqrt(own / others)
	return math.Min(1, float64(len(s.residuals))*2*distuv.StudentsT{Sigma: 1, Nu: left}.Survival(t))
}
