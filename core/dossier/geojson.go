package dossier

import (
	"math"
	"strconv"

	"brinefield/core/study"
)

// place is where the study was done, as exactly as the package says it.
type place struct {
	name                string
	known               bool
	latitude, longitude float64 // degrees
	uncertaintyM        *float64
	coarsened           bool
}

// datumText is the datum of coordinates: a season has no place to state one.
const datumText = notRecordedText

func sitePlaceOf(in Input) place {
	f := in.Facts.Place
	p := place{name: oneLine(f.Name), uncertaintyM: f.UncertaintyM, coarsened: f.Coarsened}
	if p.name == "" && in.Study != nil {
		p.name = oneLine(in.Study.Site.Name)
	}
	switch {
	case f.Latitude != nil && f.Longitude != nil:
		p.known, p.latitude, p.longitude = true, *f.Latitude, *f.Longitude
	case !f.Coarsened && in.Study != nil && in.Study.Site.LatitudeDeg.Known && in.Study.Site.LongitudeDeg.Known:
		p.known, p.latitude, p.longitude = true, in.Study.Site.LatitudeDeg.Value, in.Study.Site.LongitudeDeg.Value
	}
	if p.known && (!(math.Abs(p.latitude) <= 90) || !(math.Abs(p.longitude) <= 180)) {
		p.known = false
	}
	if p.uncertaintyM != nil && !(*p.uncertaintyM > 0 && *p.uncertaintyM < 1e8) {
		p.uncertaintyM = nil
	}
	return p
}

// Shapes of GeoJSON, RFC 7946: longitude before latitude, WGS 84.
type (
	featureCollection struct {
		Type     string    `json:"type"`
		Features []feature `json:"features"`
	}
	feature struct {
		Type       string         `json:"type"`
		ID         string         `json:"id"`
		Geometry   geometry       `json:"geometry"`
		Properties map[string]any `json:"properties"` // written in the order of names
	}
	geometry struct {
		Type        string `json:"type"`
		Coordinates any    `json:"coordinates"`
	}
)

// sitesFile is sites.geojson; nil without coordinates. The site is a point; what lay
// there is told in metres of the season's own frame. Only where coordinates are exact
// and the bearing of the frame is known are pairs and plates placed on the Earth, as
// if the frame's origin lay at the site's coordinates.
func sitesFile(in Input) ([]byte, error) {
	p := sitePlaceOf(in)
	if !p.known || in.Study == nil {
		return nil, nil
	}
	s := in.Study
	props := map[string]any{
		"kind": "site", "name": p.name, "depth_m": s.Site.DepthM, "coarsened": p.coarsened, "datum": "not recorded; taken as WGS 84, which GeoJSON asks for",
		"pairs": localPairs(s), "plates": localPlates(s),
		"frame": "Metres in the season's own frame: x and y in the plane of the bottom, its origin chosen by the study.",
	}
	if p.uncertaintyM != nil {
		props["coordinate_uncertainty_m"] = *p.uncertaintyM
	}
	if p.coarsened {
		props["note"] = coarsenedText
	}
	if in.Invented {
		props["warning"] = inventedText
	}
	c := featureCollection{Type: "FeatureCollection", Features: []feature{
		{Type: "Feature", ID: "site", Geometry: geometry{"Point", [2]float64{p.longitude, p.latitude}}, Properties: props},
	}}
	if bearing := s.Site.XAxisBearingDeg; !p.coarsened && bearing.Known && math.Abs(p.latitude) < 89 {
		e := newEarthFrame(p, bearing.Value)
		c.Features = append(c.Features, e.pairs(s)...)
		c.Features = append(c.Features, e.plates(s)...)
	}
	return indentJSON(c)
}

func localPairs(s *study.Study) []map[string]any {
	out := []map[string]any{}
	for _, p := range s.Pairs {
		out = append(out, map[string]any{
			"label": plainText(p.Label), "x_m": p.CentreXM, "y_m": p.CentreYM, "height_m": p.HeightM, "azimuth_deg": p.AzimuthDeg,
			"separation_m": p.SeparationM, "electrode_diameter_m": p.ElectrodeDiameterM,
		})
	}
	return out
}

func localPlates(s *study.Study) []map[string]any {
	out := []map[string]any{}
	for _, p := range s.Plates {
		m := map[string]any{
			"label": plainText(p.Label), "x_m": p.CentreXM, "y_m": p.CentreYM, "yaw_deg": p.YawDeg,
			"thickness_m": p.ThicknessM, "top_above_bottom_m": p.TopAboveBottomM, "shape": "rectangle",
		}
		if p.Disc {
			m["shape"], m["diameter_m"] = "disc", p.DiameterM
		} else {
			m["size_x_m"], m["size_y_m"] = p.SizeXM, p.SizeYM
		}
		out = append(out, m)
	}
	return out
}

// earthFrame places metres of the season's frame on the Earth, on the plane that
// touches the WGS 84 ellipsoid at the site: over 100 m it is wrong by less than a
// millimetre times the tangent of the latitude.
type earthFrame struct {
	p                place
	sin, cos         float64 // of the bearing of +x, clockwise from true north
	perNorth, perEst float64 // degrees for each metre
}

// newEarthFrame takes the radii of curvature of the ellipsoid: a = 6378137 m,
// 1/f = 298.257223563 (NIMA TR8350.2, WGS 84).
func newEarthFrame(p place, bearingDeg float64) earthFrame {
	const a, f = 6378137.0, 1 / 298.257223563
	const e2 = f * (2 - f)
	lat := p.latitude * math.Pi / 180
	w2 := 1 - e2*math.Sin(lat)*math.Sin(lat)
	meridian, across := a*(1-e2)/(w2*math.Sqrt(w2)), a/math.Sqrt(w2)
	sin, cos := math.Sincos(bearingDeg * math.Pi / 180)
	return earthFrame{p, sin, cos, 180 / math.Pi / meridian, 180 / math.Pi / (across * math.Cos(lat))}
}

// at is longitude and latitude of a place, to 1e-8 degrees (a millimetre). +y is a
// quarter turn anticlockwise from +x.
func (e earthFrame) at(x, y float64) [2]float64 {
	east, north := x*e.sin-y*e.cos, x*e.cos+y*e.sin
	lon := e.p.longitude + east*e.perEst
	if lon > 180 {
		lon -= 360
	}
	if lon < -180 {
		lon += 360
	}
	return [2]float64{round(lon, 8), round(e.p.latitude+north*e.perNorth, 8)}
}

// round keeps so many decimals.
func round(v float64, decimals int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'f', decimals, 64), 64)
	if err != nil || r == 0 {
		return 0
	}
	return r
}

const originNote = "Placed as if the origin of the season's frame lay at the site's coordinates."

func (e earthFrame) pairs(s *study.Study) []feature {
	var out []feature
	for i, p := range s.Pairs {
		out = append(out, feature{
			Type: "Feature", ID: "pair-" + strconv.Itoa(i+1), Geometry: geometry{"Point", e.at(p.CentreXM, p.CentreYM)},
			Properties: map[string]any{"kind": "pair", "label": plainText(p.Label), "note": originNote},
		})
	}
	return out
}

func (e earthFrame) plates(s *study.Study) []feature {
	var out []feature
	for i, p := range s.Plates {
		out = append(out, feature{
			Type: "Feature", ID: "plate-" + strconv.Itoa(i+1), Geometry: geometry{"Polygon", [][][2]float64{e.ring(p)}},
			Properties: map[string]any{"kind": "plate", "label": plainText(p.Label), "note": originNote},
		})
	}
	return out
}

// ring is the outline of a plate, anticlockwise as seen from above, closed.
func (e earthFrame) ring(p study.Plate) [][2]float64 {
	var ring [][2]float64
	if p.Disc {
		const corners = 36
		for k := range corners {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / corners)
			ring = append(ring, e.at(p.CentreXM+p.DiameterM/2*cos, p.CentreYM+p.DiameterM/2*sin))
		}
	} else {
		sin, cos := math.Sincos(p.YawDeg * math.Pi / 180)
		for _, c := range [][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
			x, y := c[0]*p.SizeXM/2, c[1]*p.SizeYM/2
			ring = append(ring, e.at(p.CentreXM+x*cos-y*sin, p.CentreYM+x*sin+y*cos))
		}
	}
	return append(ring, ring[0])
}
