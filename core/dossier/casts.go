package dossier

import (
	"strconv"
	"time"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

// cast is the readings of one time, in the order of the season.
type cast struct {
	at   time.Time
	rows []study.CastRow
}

func castsOf(s *study.Study) []cast {
	var out []cast
	if s == nil {
		return nil
	}
	for _, r := range s.Cast {
		if n := len(out); n == 0 || !out[n-1].at.Equal(r.Time) {
			out = append(out, cast{at: r.Time})
		}
		out[len(out)-1].rows = append(out[len(out)-1].rows, r)
	}
	return out
}

// castFiles are casts.csv and casts.nc; none where no cast was recorded.
func castFiles(in Input) []File {
	casts := castsOf(in.Study)
	if len(casts) == 0 {
		return nil
	}
	rows := [][]string{{"cast", "time", "depth_m", "temperature_C", "salinity", "conductivity_S_per_m"}}
	for i, c := range casts {
		for _, r := range c.rows {
			rows = append(rows, []string{
				strconv.Itoa(i + 1), timeText(r.Time), exactNumber(r.DepthM),
				optText(r.TemperatureC, quantity.One), optText(r.Salinity, quantity.One), optText(r.ConductivitySPerM, quantity.One),
			})
		}
	}
	return []File{
		{Name: CastTable, Bytes: csvOf(rows), Media: "text/csv", What: "Readings of the water casts, by cast and depth."},
		{Name: CastNetCDF, Bytes: castNetCDF(in, casts), Media: "application/x-netcdf", What: "The same casts as netCDF, named after the CF conventions."},
	}
}

// castNetCDF follows CF-1.11, chapter 9: profiles as a contiguous ragged array
// (section H.3.4). Without coordinates it cannot be a discrete sampling geometry of
// CF; then it says so and leaves featureType out.
func castNetCDF(in Input, casts []cast) []byte {
	site := sitePlaceOf(in)
	f := ncFile{attributes: []ncAttribute{
		{"Conventions", "CF-1.11"},
		{"title", "Water casts of: " + packageTitle(in)},
		{"source", "Readings as recorded in season/" + castSource(in.Study)},
	}}
	note := ""
	if in.Invented {
		note = inventedText + " "
	}
	if site.known {
		f.attributes = append(f.attributes, ncAttribute{"featureType", "profile"})
	} else {
		note += "Coordinates of the site: not recorded in this package. "
	}
	if site.coarsened {
		note += coarsenedText + " "
	}
	f.attributes = append(f.attributes, ncAttribute{"comment", note + "Salinity is practical salinity (PSS-78), temperature ITS-90."})
	if l, granted := licenceOf(in.Spec.Licence); granted {
		f.attributes = append(f.attributes, ncAttribute{"license", l.id})
	}

	profile := ncVariable{name: "profile", dimensions: []int{0}, integers: []int32{}, attributes: []ncAttribute{{"long_name", "number of the cast"}, {"cf_role", "profile_id"}}}
	when := ncVariable{name: "time", dimensions: []int{0}, attributes: []ncAttribute{
		{"standard_name", "time"}, {"long_name", "time of the cast"}, {"units", "seconds since 1970-01-01T00:00:00Z"}, {"calendar", "standard"}, {"axis", "T"},
	}}
	size := ncVariable{name: "row_size", dimensions: []int{0}, integers: []int32{}, attributes: []ncAttribute{{"long_name", "number of readings in the cast"}, {"sample_dimension", "obs"}}}
	lat := ncVariable{name: "latitude", dimensions: []int{0}, attributes: []ncAttribute{{"standard_name", "latitude"}, {"units", "degrees_north"}, {"axis", "Y"}}}
	lon := ncVariable{name: "longitude", dimensions: []int{0}, attributes: []ncAttribute{{"standard_name", "longitude"}, {"units", "degrees_east"}, {"axis", "X"}}}
	depth := ncVariable{name: "depth", dimensions: []int{1}, attributes: []ncAttribute{
		{"standard_name", "depth"}, {"long_name", "depth below the surface"}, {"units", "m"}, {"positive", "down"}, {"axis", "Z"},
	}}
	coordinates := "time depth"
	if site.known {
		coordinates = "time latitude longitude depth"
	}
	reading := func(name, standard, units string) ncVariable {
		return ncVariable{name: name, dimensions: []int{1}, attributes: []ncAttribute{
			{"standard_name", standard}, {"units", units}, {"coordinates", coordinates}, {"_FillValue", ncFill},
		}}
	}
	temperature := reading("temperature", "sea_water_temperature", "degree_Celsius")
	salinity := reading("salinity", "sea_water_practical_salinity", "1")
	conducts := reading("conductivity", "sea_water_electrical_conductivity", "S m-1")
	n := 0
	for i, c := range casts {
		profile.integers = append(profile.integers, int32(i+1))
		size.integers = append(size.integers, int32(len(c.rows)))
		when.doubles = append(when.doubles, TimeOf(c.at))
		lat.doubles, lon.doubles = append(lat.doubles, site.latitude), append(lon.doubles, site.longitude)
		for _, r := range c.rows {
			depth.doubles = append(depth.doubles, r.DepthM)
			temperature.doubles = append(temperature.doubles, r.TemperatureC.Or(ncFill))
			salinity.doubles = append(salinity.doubles, r.Salinity.Or(ncFill))
			conducts.doubles = append(conducts.doubles, r.ConductivitySPerM.Or(ncFill))
			n++
		}
	}
	f.dimensions = []ncDimension{{"profile", len(casts)}, {"obs", n}}
	f.variables = []ncVariable{profile, when, size}
	if site.known {
		f.variables = append(f.variables, lat, lon)
	}
	f.variables = append(f.variables, depth, temperature, salinity, conducts)
	return f.bytes()
}

func castSource(s *study.Study) string {
	if s.Water.CastFile != "" {
		return plainText(s.Water.CastFile)
	}
	return "water.csv"
}
