package dossier_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"brinefield/core/dossier"
	"brinefield/core/study"
)

type sites struct {
	Type     string
	Features []struct {
		Geometry struct {
			Type        string
			Coordinates json.RawMessage
		}
		Properties map[string]any
	}
}

func sitesOf(t *testing.T, in dossier.Input) sites {
	t.Helper()
	var s sites
	if err := json.Unmarshal(filesOf(t, in, smallHeading(in))[dossier.SitesFile], &s); err != nil {
		t.Fatal(err)
	}
	return s
}

// Lengths of a degree on WGS 84 at 45°: 111 131.7 m of latitude, 78 846.8 m of
// longitude (Snyder, Map Projections: A Working Manual, USGS Professional Paper 1395,
// 1987, gives the formulas; the values are those of NGA's calculator to 0.1 m). A pair
// 1000 m east of the site lies that much further, within 1e-8 degrees of writing.
func TestPairsAreWhereTheBearingSays(t *testing.T) {
	for _, c := range []struct {
		bearing, x, y, east, north float64
	}{
		{90, 1000, 0, 1000, 0}, // +x to the east, so +y to the north
		{90, 0, 1000, 0, 1000},
		{0, 1000, 0, 0, 1000}, // +x to the north, so +y to the west
		{0, 0, 1000, -1000, 0},
	} {
		in := smallInput(t)
		lat, lon := 45.0, 10.0
		in.Facts.Place.Latitude, in.Facts.Place.Longitude = &lat, &lon
		in.Study.Site.XAxisBearingDeg = study.Some(c.bearing)
		in.Study.Pairs[0].CentreXM, in.Study.Pairs[0].CentreYM = c.x, c.y
		var at [2]float64
		if err := json.Unmarshal(sitesOf(t, in).Features[1].Geometry.Coordinates, &at); err != nil {
			t.Fatal(err)
		}
		east, north := (at[0]-lon)*78846.8, (at[1]-lat)*111131.7
		if math.Abs(east-c.east) > 0.01 || math.Abs(north-c.north) > 0.01 {
			t.Errorf("bearing %v, x %v, y %v: %.3f m east, %.3f m north", c.bearing, c.x, c.y, east, north)
		}
	}
}

// RFC 7946, section 3.1.6: a ring is closed, has four positions or more, and turns
// anticlockwise.
func TestPlatesAreRings(t *testing.T) {
	n := 0
	for _, f := range sitesOf(t, smallInput(t)).Features {
		if f.Geometry.Type != "Polygon" {
			continue
		}
		n++
		var rings [][][2]float64
		if err := json.Unmarshal(f.Geometry.Coordinates, &rings); err != nil {
			t.Fatal(err)
		}
		ring := rings[0]
		if len(ring) < 4 || ring[0] != ring[len(ring)-1] {
			t.Errorf("ring of %d positions is open or too short", len(ring))
		}
		twice := 0.0
		for i := range len(ring) - 1 {
			a, b := ring[i], ring[i+1]
			twice += (a[0]-ring[0][0])*(b[1]-ring[0][1]) - (b[0]-ring[0][0])*(a[1]-ring[0][1])
		}
		if twice <= 0 {
			t.Error("a ring turns clockwise")
		}
	}
	if n != 2 {
		t.Errorf("%d plates", n)
	}
}

func TestCoarsenedPlaceIsNowhereExact(t *testing.T) {
	in := smallInput(t)
	lat, lon, within := 52.5, -9.5, 7071.0
	in.Facts.Place = dossier.PlaceFacts{Latitude: &lat, Longitude: &lon, UncertaintyM: &within, Coarsened: true, Name: "Somewhere in the west"}
	in.Season = map[string][]byte{"study.toml": nil, "trials.csv": in.Season["trials.csv"], "passes.csv": in.Season["passes.csv"]}
	for name, b := range filesOf(t, in, smallHeading(in)) {
		if s := string(b); strings.Contains(s, "52.12") || strings.Contains(s, "9.43") && !strings.HasSuffix(name, ".nc") && !strings.HasSuffix(name, ".sha256") && !strings.HasSuffix(name, ".json") {
			t.Errorf("%s tells the exact place", name)
		}
	}
	s := sitesOf(t, in)
	if len(s.Features) != 1 || s.Features[0].Properties["coordinate_uncertainty_m"] != within || s.Features[0].Properties["coarsened"] != true {
		t.Errorf("sites: %v", s)
	}
}
