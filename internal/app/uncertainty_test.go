package app_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"

	"brinefield/core/numeric/numtest"
	"brinefield/internal/app"
)

// uncertainSeason is season A over sand, with an [uncertainty].
func uncertainSeason(t testing.TB, states string) app.Input {
	in := readFolder(t, "../../testdata/season-a")
	toml := strings.Replace(string(in["study.toml"]), `kind = "insulating"`, "kind = \"sediment\"\nconductivity_S_per_m = 1.2", 1)
	in["study.toml"] = []byte(toml + "\n[uncertainty]\n" + states + "\n")
	return in
}

func uncertainty(t testing.TB, in app.Input) map[string]app.Uncertainty {
	t.Helper()
	f := analyse(t, in, app.AnalyseOptions{Only: []string{"uncertainty"}, Seed: 7})
	out := map[string]app.Uncertainty{}
	for _, row := range f.Uncertainty {
		out[row.What] = row
	}
	return out
}

// withCells writes a column of a table anew.
func withCells(in app.Input, file, column string, change func(row int, cells []string, at int)) {
	lines := strings.Split(strings.TrimRight(string(in[file]), "\n"), "\n")
	header := strings.Split(lines[0], ",")
	for at, name := range header {
		if name != column {
			continue
		}
		for i := 1; i < len(lines); i++ {
			cells := strings.Split(lines[i], ",")
			change(i, cells, at)
			lines[i] = strings.Join(cells, ",")
		}
	}
	in[file] = []byte(strings.Join(lines, "\n") + "\n")
}

func numberIn(cell string) float64 {
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		panic(err)
	}
	return v
}

// Each row against the season written down otherwise and analysed again: another
// conductivity in study.toml, other heights in tracks.csv, other currents in
// trials.csv. Medians to 1e-6; those of the current to 1e-5, where the row is in
// closed form and the estimates climb to a likelihood.
func TestUncertaintyAgainstSeasonsWrittenOtherwise(t *testing.T) {
	long(t)
	rows := uncertainty(t, uncertainSeason(t, "bottom_S_per_m_sd = 0.4\nheight_sd_cm = 1\ncurrent_sd_percent = 4"))
	if len(rows) != 4 {
		t.Fatalf("%d rows", len(rows))
	}
	otherwise := map[string]func(in app.Input, sign float64){
		"bottom conductivity": func(in app.Input, sign float64) {
			in["study.toml"] = []byte(strings.Replace(string(in["study.toml"]), "conductivity_S_per_m = 1.2", fmt.Sprintf("conductivity_S_per_m = %g", 1.2+0.4*sign), 1))
		},
		"height": func(in app.Input, sign float64) {
			withCells(in, "tracks.csv", "height_cm", func(_ int, cells []string, at int) {
				cells[at] = fmt.Sprintf("%.10g", math.Max(numberIn(cells[at])+sign, 0))
			})
		},
		"current": func(in app.Input, sign float64) {
			withCells(in, "trials.csv", "current_uA", func(_ int, cells []string, at int) {
				cells[at] = fmt.Sprintf("%.12g", numberIn(cells[at])*(1+0.04*sign))
			})
		},
	}
	for what, write := range otherwise {
		var ends [2]app.Findings
		for k, sign := range []float64{-1, 1} {
			in := uncertainSeason(t, "")
			write(in, sign)
			ends[k] = analyse(t, in, app.AnalyseOptions{Only: []string{"detection", "thresholds"}})
		}
		for i, got := range rows[what].Species {
			medians := func(f app.Findings) [4]float64 {
				d, s := f.Detection[i], f.Thresholds[i]
				if d.Species != got.Species || s.Species != got.Species {
					t.Fatalf("species %q in the place of %q", d.Species, got.Species)
				}
				return [4]float64{*d.Median, *s.NPMLE.Median, *s.Lognormal.Median, *s.LognormalIndividual.Median}
			}
			low, high := medians(ends[0]), medians(ends[1])
			for k, span := range []app.Span{got.Detection, got.NPMLE, got.Lognormal, got.LognormalIndividual} {
				name := fmt.Sprintf("%s, %s, estimate %d", what, got.Species, k)
				tolerance := numtest.Tolerance{Rel: 1e-6}
				if what == "current" {
					tolerance.Rel = 1e-5
				}
				numtest.Check(t, name+": low", span.Low, math.Min(low[k], high[k]), tolerance)
				numtest.Check(t, name+": high", span.High, math.Max(low[k], high[k]), tolerance)
			}
		}
	}
	// All together: the logarithms added as squares, by hand.
	base := analyse(t, uncertainSeason(t, ""), app.AnalyseOptions{Only: []string{"detection"}})
	for i, got := range rows["all together"].Species {
		down, up, median := 0.0, 0.0, *base.Detection[i].Median
		for what := range otherwise {
			span := rows[what].Species[i].Detection
			down, up = math.Hypot(down, math.Log(median/span.Low)), math.Hypot(up, math.Log(span.High/median))
		}
		numtest.Check(t, got.Species+": all together, low", got.Detection.Low, median*math.Exp(-down), numtest.Tolerance{Rel: 1e-9})
		numtest.Check(t, got.Species+": all together, high", got.Detection.High, median*math.Exp(up), numtest.Tolerance{Rel: 1e-9})
	}
	if rows["all together"].SD != nil || rows["current"].SD == nil || *rows["current"].SD != 4 || rows["height"].Unit != "cm" || *rows["height"].SD != 1 {
		t.Errorf("rows %+v", rows)
	}
}

// Positions: the same in distribution as seasons whose tracks.csv was disturbed
// here, with other random numbers. Mean of ln(median) within four of its standard
// errors, standard deviation within a factor of 2 (24 and 16 draws).
func TestUncertaintyOfPositionsAgainstDisturbedSeasons(t *testing.T) {
	long(t)
	in := uncertainSeason(t, "position_sd_cm = 2")
	row := uncertainty(t, in)["position"]
	if row.Draws < 20 || len(row.Species) != 2 {
		t.Fatalf("row %+v", row)
	}
	const draws = 16
	ln := make([][]float64, len(row.Species))
	r := rand.New(rand.NewPCG(99, 100))
	for range draws {
		other := uncertainSeason(t, "")
		shift := map[string][2]float64{}
		for k, column := range []string{"x_cm", "y_cm"} {
			withCells(other, "tracks.csv", column, func(_ int, cells []string, at int) {
				if _, there := shift[cells[0]]; !there {
					shift[cells[0]] = [2]float64{2 * r.NormFloat64(), 2 * r.NormFloat64()}
				}
				cells[at] = fmt.Sprintf("%.10g", numberIn(cells[at])+shift[cells[0]][k])
			})
		}
		f := analyse(t, other, app.AnalyseOptions{Only: []string{"detection"}})
		for i := range ln {
			ln[i] = append(ln[i], math.Log(*f.Detection[i].Median))
		}
	}
	for i, got := range row.Species {
		mean, sd := 0.0, 0.0
		for _, v := range ln[i] {
			mean += v / draws
		}
		for _, v := range ln[i] {
			sd += (v - mean) * (v - mean) / (draws - 1)
		}
		sd = math.Sqrt(sd)
		middle, half := math.Log(got.Detection.Low*got.Detection.High)/2, math.Log(got.Detection.High/got.Detection.Low)/2
		numtest.Check(t, got.Species+": mean of ln(median)", middle, mean, numtest.Tolerance{Abs: 4 * sd * math.Sqrt(1.0/draws+1.0/24)})
		numtest.Check(t, got.Species+": its standard deviation", math.Log(half/sd), 0, numtest.Tolerance{Abs: math.Log(2)})
	}
}

// Errors that hardly are any leave the medians where they are; the seed decides
// the bits, and is told.
func TestUncertaintyOfPositionsSeed(t *testing.T) {
	long(t)
	in := uncertainSeason(t, "position_sd_cm = 0.0001")
	base := analyse(t, in, app.AnalyseOptions{Only: []string{"detection"}})
	find := func(seed uint64) app.Findings {
		f := analyse(t, in, app.AnalyseOptions{Only: []string{"uncertainty"}, Seed: seed})
		if f.Seed == nil || *f.Seed != seed || len(f.Uncertainty) != 1 || f.Detection != nil {
			t.Fatalf("seed %v, %d rows", f.Seed, len(f.Uncertainty))
		}
		return f
	}
	one, again, other := find(1), find(1), find(2)
	for i, got := range one.Uncertainty[0].Species {
		numtest.Check(t, got.Species+": low", got.Detection.Low, *base.Detection[i].Median, numtest.Tolerance{Rel: 1e-4})
		numtest.Check(t, got.Species+": high", got.Detection.High, *base.Detection[i].Median, numtest.Tolerance{Rel: 1e-4})
		if a := again.Uncertainty[0].Species[i]; a != got {
			t.Errorf("one seed, two answers: %+v and %+v", got, a)
		}
		if o := other.Uncertainty[0].Species[i]; o.Detection == got.Detection {
			t.Errorf("two seeds, one answer: %+v", o)
		}
	}
}

func TestUncertaintyOnlyWhereStatedAndAsked(t *testing.T) {
	long(t)
	in := readFolder(t, "../../testdata/season-a")
	if f := analyse(t, in, app.AnalyseOptions{Only: []string{"uncertainty"}}); f.Uncertainty != nil || f.Seed != nil {
		t.Errorf("a season that states none: %+v", f.Uncertainty)
	}
	if f := analyse(t, uncertainSeason(t, "height_sd_cm = 1"), app.AnalyseOptions{}); f.Uncertainty != nil {
		t.Error("worked out without being asked for")
	}
	in["study.toml"] = append(in["study.toml"], "\n[uncertainty]\nbottom_S_per_m_sd = 0.2\ncurrent_sd_percent = 0\n"...)
	f := analyse(t, in, app.AnalyseOptions{Only: []string{"uncertainty"}})
	if f.Uncertainty != nil || !strings.Contains(strings.Join(f.Warnings, "\n"), "bottom_S_per_m_sd") {
		t.Errorf("over an insulating bottom: %+v, warnings %q", f.Uncertainty, f.Warnings)
	}
	in = uncertainSeason(t, "current_sd_percent = 120")
	for _, row := range uncertainty(t, in) {
		for _, s := range row.Species {
			if s.Detection.NotEstimable == "" || s.Lognormal.NotEstimable == "" {
				t.Errorf("%s: a current that may be none: %+v", row.What, s)
			}
		}
	}
}

// Old data without tracks, of which little can be estimated: reasons, no numbers
// that are none.
func TestUncertaintyOfOldData(t *testing.T) {
	long(t)
	in := readFolder(t, "../../examples/01-old-spreadsheet")
	in["study.toml"] = append(in["study.toml"], "\n[uncertainty]\nposition_sd_cm = 1\nheight_sd_cm = 2\ncurrent_sd_percent = 5\n"...)
	rows := uncertainty(t, in)
	if len(rows) != 4 {
		t.Fatalf("%d rows", len(rows))
	}
	for what, row := range rows {
		for _, s := range row.Species {
			for k, span := range []app.Span{s.Detection, s.NPMLE, s.Lognormal, s.LognormalIndividual} {
				if span.NotEstimable == "" && !(span.Low > 0 && span.Low <= span.High && !math.IsInf(span.High, 0)) {
					t.Errorf("%s, %s, estimate %d: %+v", what, s.Species, k, span)
				}
			}
		}
	}
}

func TestUncertaintyStops(t *testing.T) {
	in := uncertainSeason(t, "position_sd_cm = 2")
	s, err := app.ReadSeason(in)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	_, err = app.Analyse(ctx, in, s, app.AnalyseOptions{Only: []string{"uncertainty"}, Progress: func(stage string, _, _ int) {
		if stage == "Uncertainty" {
			cancel()
		}
	}})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}

// The page of a study and of a season folder get what analyse says, and get it
// again without new work.
func TestUncertaintyOfAStudy(t *testing.T) {
	in := roundTank(t)
	read, err := app.ReadSeason(in)
	if err != nil {
		t.Fatal(err)
	}
	shelf := newMemShelf()
	studies := newStudies(t, shelf)
	importInto(t, studies, shelf, "rossmore", in, app.ImportRequest{})
	study := openStudy(t, studies, "rossmore")
	settled(t, study)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := study.Uncertainty(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	loose := app.Loose(open(t, in))
	for name, ask := range map[string]func(context.Context) (app.UncertaintyView, error){"study": study.Uncertainty, "season": loose.Uncertainty} {
		got, err := ask(t.Context())
		if err != nil || !got.Stated || len(got.Uncertainty) != 4 || got.Seed == nil {
			t.Fatalf("%s: %v, %+v", name, err, got)
		}
		want, err := app.Analyse(t.Context(), in, read, app.AnalyseOptions{Only: []string{"uncertainty"}, Seed: *got.Seed})
		if err != nil {
			t.Fatal(err)
		}
		for i, row := range got.Uncertainty {
			for j, s := range row.Species {
				if s != want.Findings.Uncertainty[i].Species[j] {
					t.Errorf("%s, %s: %+v, want %+v", name, row.What, s, want.Findings.Uncertainty[i].Species[j])
				}
			}
		}
		ctx, cancel := context.WithTimeout(t.Context(), time.Second/2)
		if again, err := ask(ctx); err != nil || len(again.Uncertainty) != 4 {
			t.Errorf("%s again: %v", name, err)
		}
		cancel()
	}
	plain := app.Loose(open(t, readFolder(t, "../../examples/01-old-spreadsheet")))
	if v, err := plain.Uncertainty(t.Context()); err != nil || v.Stated || v.Uncertainty == nil || len(v.Uncertainty) != 0 {
		t.Errorf("a season that states none: %+v, %v", v, err)
	}
}
