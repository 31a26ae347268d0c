package app_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// secretSeason names people and the place wherever a season can.
func secretSeason(t *testing.T) app.Input {
	t.Helper()
	in := with(t, smallSeason(), "study.toml", `timezone = "Europe/Dublin"`, "timezone = \"Europe/Dublin\"\nlatitude = 53.34561\nlongitude = -9.87654\nx_axis_bearing_deg = 30")
	in = with(t, in, "study.toml", "turn to a prey-like field?", "turn at Inishcorr Bay to a prey-like field?")
	in = with(t, in, "trials.csv", ",calm", `,"calm; tom kett dived at 53.3456, -9.8765 (53°20.737'N), INISHCORR BAY"`)
	return with(t, in, "trials.csv", ",swell", `,"swell 0.5 m; Deirdre Nic Craith saw 53.35 N"`)
}

// No byte of a package holds what was not to be told: names of people who are no
// authors, the site's name, its coordinates in several roundings, or what a camera
// wrote into a photo.
func TestDossierTellsNoSecrets(t *testing.T) {
	s, m := dossierStudy(t, secretSeason(t))
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now)
	deirdre := m.kept(t, []byte("Deirdre Nic Craith"))
	merged(t, s, tablet.Write(t,
		attached("7c1e-a0001", m.kept(t, photoAt("53.34561N 9.87654W Tom Kett")), "photo"),
		recorded(study.KindEvent, "7c1e-e0001", map[string]string{"what": "note", "trial": "T1", "time": "2026-06-01T21:20:00+01:00", "text": "Tom Kett felt it", "by": "person:" + deirdre}),
	)...)
	say(t, s, `{"title":"Rays of Inishcorr bay","coarsen_km":10,"place_name":"A bay in the west","photos":true}`, `[{"given":"Aoife","family":"Byrne"}]`)
	made, err := s.MakePackage(t.Context(), tellingPrinter{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	secrets := []string{"Tom Kett", "tom kett", "Kett", "Deirdre", "Nic Craith", "Inishcorr", "INISHCORR", "53.34561", "9.87654", "53.3456", "53.346", "53.35", "9.8765", "9.877", "9.88", "20.737"}
	photos, persons := 0, 0
	for _, f := range made.Files {
		for _, secret := range secrets {
			if strings.HasPrefix(f.Name, "figures/") && strings.Contains(secret, ".") && len(secret) < 8 {
				continue // among the numbers of a map any five digits are found
			}
			if at := bytes.Index(f.Bytes, []byte(secret)); at >= 0 {
				t.Errorf("%s holds %q: %q", f.Name, secret, f.Bytes[max(0, at-60):min(len(f.Bytes), at+60)])
			}
		}
		if strings.HasPrefix(f.Name, "photos/") {
			photos++
		}
		persons += bytes.Count(f.Bytes, []byte("Person 1"))
	}
	if photos != 1 || persons == 0 {
		t.Errorf("%d photos, Person 1 stands %d times", photos, persons)
	}
	season := fileOf(t, made, "season/trials.csv")
	for _, want := range []string{`"Aoife Byrne, Person 1"`, "Person 1 dived at [coordinate], [coordinate] ([coordinate]N), A bay in the west", "swell 0.5 m; Person 2 saw [coordinate] N"} {
		if !strings.Contains(season, want) {
			t.Errorf("season/trials.csv lacks %q:\n%s", want, season)
		}
	}
	toml := fileOf(t, made, "season/study.toml")
	if !strings.Contains(toml, `title = "A bay in the west, two evenings (invented)"`) && !strings.Contains(toml, "A bay in the west, two evenings") {
		t.Errorf("%s", toml)
	}
	if !strings.Contains(toml, "depth_m = 4.5") {
		t.Error("the depth is gone")
	}

	say(t, s, `{"names_of":"all","without_notes":true}`, "")
	made, err = s.MakePackage(t.Context(), tellingPrinter{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	season = fileOf(t, made, "season/trials.csv")
	if !strings.Contains(season, "Tom Kett") || strings.Contains(season, "calm") {
		t.Errorf("with all names and no notes:\n%s", season)
	}
	if facts := fileOf(t, made, "study/facts.json"); strings.Contains(facts, "felt it") {
		t.Errorf("without notes:\n%s", facts)
	}
	if toml := fileOf(t, made, "season/study.toml"); !strings.Contains(toml, "53.34561") {
		t.Error("coordinates as recorded are not there")
	}
}

func fileOf(t *testing.T, made app.MadePackage, name string) string {
	t.Helper()
	for _, f := range made.Files {
		if f.Name == name {
			return string(f.Bytes)
		}
	}
	t.Fatalf("there is no %s", name)
	return ""
}

// Distances are by the haversine formula on the same sphere. A place lies within
// the stated uncertainty of its square's middle, all places of a square have the
// same middle, and the edge is about the one asked for.
func TestCoarsenedPlaces(t *testing.T) {
	const radiusM = 6371008.8
	distance := func(aLat, aLon, bLat, bLon float64) float64 {
		const r = math.Pi / 180
		h := math.Pow(math.Sin((bLat-aLat)*r/2), 2) + math.Cos(aLat*r)*math.Cos(bLat*r)*math.Pow(math.Sin((bLon-aLon)*r/2), 2)
		return 2 * radiusM * math.Asin(math.Sqrt(math.Min(h, 1)))
	}
	seen := 0
	for _, km := range []float64{0.5, 1, 10, 100, 500} {
		for lat := -89.9; lat < 90; lat += 7.3 {
			for lon := -179.9; lon < 180; lon += 23.7 {
				mLat, mLon, half := app.Coarsened(lat, lon, km)
				if d := distance(lat, lon, mLat, mLon); d > half*1.001 {
					t.Errorf("%g km: %g, %g is %.0f m from %g, %g; said %.0f m", km, lat, lon, d, mLat, mLon, half)
				}
				if math.Abs(lat) < 60 && half > 1.3*km*1000*math.Sqrt2/2+20 {
					t.Errorf("%g km at %g: half the diagonal is %.0f m", km, lat, half)
				}
				again, againLon, _ := app.Coarsened(mLat, mLon, km)
				if again != mLat || againLon != mLon {
					t.Errorf("%g km: the middle of %g, %g lies in another square", km, mLat, mLon)
				}
				seen++
			}
		}
	}
	if seen < 1000 {
		t.Fatal(seen)
	}
}
