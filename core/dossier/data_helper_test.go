package dossier_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"slices"
	"testing"
	"time"

	"brinefield/core/dossier"
	"brinefield/core/season"
	"brinefield/core/study"
)

// hostile is what people type, or paste, or send to do harm: quotation marks, line
// breaks, mark-up, letters that run from the right, a formula, control characters.
const hostile = "O\"Brien, 'x' <b>&amp;</b>\r\n\u202eשלום\u202c =1+1 \x00\x07\u0085 \uFFFE µ ]]> -- %s"

// smallSeason is a season of four trials (active, two driven, silent, sealed) with a
// cast, plates and coordinates. Invented.
var smallSeason = map[string]string{
	"study.toml": `format = 1
title = "Small season (invented)"
question = "Does every reader read it?"

[site]
name = "Ballycallow Bay (invented)"
timezone = "Europe/Dublin"
depth_m = 4.5
latitude = 52.1234
longitude = -9.4321
x_axis_bearing_deg = 35

[water]
cast = "water.csv"

[bottom]
kind = "sediment"
conductivity_S_per_m = 1.2

[[plate]]
label = "north"
shape = "rectangle"
size_m = [1.2, 0.9]
thickness_m = 0.012
top_above_bottom_m = 0.012
centre_m = [0, 1]
yaw_deg = 12.5

[[plate]]
label = "south"
shape = "disc"
diameter_m = 1.1
thickness_m = 0.012
top_above_bottom_m = 0.012
centre_m = [0, -1]

[[pair]]
label = "A"
centre_m = [0.2, 1]
azimuth_deg = 0
separation_m = 0.01
electrode_diameter_m = 0.002

[[pair]]
label = "B <&\""
centre_m = [-0.2, -1]
azimuth_deg = 90
separation_m = 0.01
electrode_diameter_m = 0.002

[[species]]
name = "Scyliorhinus canicula"

[[species]]
name = "Raja clavata"

[schedule]
rule = "uniform"

[analysis]
pass_radius_cm = 30
reaction_time_s = 0.08
height_range_cm = [1, 12]
`,
	"trials.csv": `trial,start,end,active_pair,current_uA,current_before_uA,current_after_uA,temperature_C,salinity,tide_m,note
T1,2025-07-01T09:00:00,2025-07-01T09:40:00,A,8,8.1,7.9,15.1,34.4,-0.3,"calm, ""glassy"""
T2,2025-07-01T10:00:00,2025-07-01T10:40:00,"A+B <&""",6,,,,,,
T3,2025-07-01T11:00:00,2025-07-01T11:40:00,none,6,,,,,,"first line
second line"
T4,2025-07-01T12:00:00,2025-07-01T12:40:00,sealed,,,,,,,
`,
	"passes.csv": `pass,trial,time,individual,species,pair,turned,bit,visit,turn_pair,onset_s,watched_s,response,sex,total_length_cm,disc_width_cm,clip,scorer,second_scorer,onset_distance_cm,onset_angle_deg,onset_height_cm,closest_distance_cm,closest_angle_deg,closest_height_cm,note
P1,T1,2025-07-01T09:01:00,SC1,Scyliorhinus canicula,A,yes,yes,V1,,0.4,2.5,hard turn,female,58.2,,C1,MK,OB,,,,,,,
"P""2, <&>",T2,2025-07-01T10:02:00,RC1,Raja clavata,"B <&""",no,no,V2,,,3,,,,,,OB,,,,,,,,
P3,T3,2025-07-01T11:03:00,,Raja clavata,A,yes,,,,,,,,,,,,,14.2,37,7.6,,,,from the old notebook
P4,T4,2025-07-01T12:04:00,,Scyliorhinus canicula,A,no,,,,,,,,,,,,,,,,22.5,120,9,
`,
	"tracks.csv": `pass,t_s,x_cm,y_cm,height_cm
P1,0,-10.5,96,5.5
P1,0.4,0,99,5
P1,0.8,10.5,100,4.5
"P""2, <&>",0,-30,-90,6
"P""2, <&>",3,-10,-95,6
`,
	"individuals.csv": `individual,species,sex,total_length_cm,disc_width_cm,head_width_cm,mark
SC1,Scyliorhinus canicula,female,58.2,,7.1,notch
RC1,Raja clavata,male,71,48.5,9.3,spot
`,
	"clips.csv": "clip,file,start\nC1,north_0001.mp4,2025-07-01T08:59:30.25\n",
	"water.csv": "time,depth_m,temperature_C,salinity,conductivity_S_per_m\n2025-07-01T08:00:00,0,15.5,34.2,\n2025-07-01T08:00:00,4,14.9,34.5,\n2025-07-02T08:00:00,2,,,4.25\n",
}

func number(v float64) *float64 { return &v }

// smallInput is an input of the small season with estimates that are made up: what is
// tested here is how they are written, not how they are worked out.
func smallInput(t *testing.T) dossier.Input {
	t.Helper()
	raw := season.Files{}
	for n, text := range smallSeason {
		raw[n] = []byte(text)
	}
	s, faults := season.Read(raw, season.Options{Zone: time.LoadLocation})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	files, err := season.Write(s)
	if err != nil {
		t.Fatal(err)
	}
	lat, lon := s.Site.LatitudeDeg.Value, s.Site.LongitudeDeg.Value
	yes, no := true, false
	in := dossier.Input{
		Name: "Small Season 2025", Study: s, Season: files, Invented: true, Sealed: 1,
		Beside: map[string][]byte{
			"schedule.json": []byte("{}\n"),
			"fixes.csv":     []byte("pass,clip,frame,t_s,x_px,how,by\nP1,C1,12,0.4,100.25,placed,Person 1\n"),
			"changed-after-opening.csv": []byte("kind,id,trial,field,from,to,when,by,reason,entry,made\n" +
				"pass,P1,T1,scorer,1,2,2025-07-03T08:00:00+01:00,Person 1,typing,e1,2025-07-03T08:00:00+01:00\n"),
		},
		Photos:  map[string][]byte{"photo-1.jpg": {0xff, 0xd8, 0xff, 0xd9}},
		Results: map[string][]byte{"findings.json": []byte("{}\n"), "curves.json": []byte("{}\n")},
		Facts: dossier.Facts{
			Format: 1, Place: dossier.PlaceFacts{Latitude: &lat, Longitude: &lon, Name: s.Site.Name},
			Protocol: dossier.ProtocolFacts{Method: "Two divers lay the plates before dawn."}, Privacy: []string{"People but authors are Person 1, Person 2, …"},
		},
		Spec: dossier.Choices{Licence: "CC-BY-4.0", Abstract: "First part.\n\nSecond part.", Keywords: []string{"electroreception", "Raja clavata"}, Funding: "A fund."},
		People: []dossier.Person{
			{Given: "Josiah", Family: "Carberry", ORCID: "0000-0002-1825-0097", Affiliation: "Marine Station (invented)", Email: "j@example.org"},
			{Given: "Ada", Family: "Byrne", Role: "contributor"},
		},
		Program: dossier.Build{Version: "0.9.0", Commit: "abcdef0", OSArch: "linux/amd64"},
		Made:    time.Date(2026, 11, 29, 12, 0, 0, 0, s.Site.Zone),
		Waters:  []dossier.TrialWater{{Trial: "T1", SPerM: 4.29, From: "temperature and salinity of the trial"}, {Trial: "T2", SPerM: 4.25, From: "cast"}, {Trial: "T3", SPerM: 4.25, From: "cast"}},
	}
	for i := range s.Passes {
		p := &s.Passes[i]
		tr := &s.Trials[p.Trial]
		d := dossier.Pass{
			ID: p.ID, Trial: tr.ID, Pair: s.Pairs[p.Pair].Label, Role: tr.RoleOf(p.Pair).String(), Species: s.Species[p.Species].Name,
			Individual: p.Individual, Time: p.Time, Visit: p.Visit, Clip: p.Clip, Scorer: p.Scorer, Turned: p.Turned, Bit: p.Bit,
			Responded: p.Responded(), WatchedS: number(2.5), DistanceCm: number(14.25 + float64(i)), HeightCm: number(5), AngleDeg: number(37.5),
		}
		if !tr.Sealed {
			d.Used, d.LowNVPerCm, d.TextbookNVPerCm, d.CurrentUA = &yes, number(0.1+0.2), number(1e-7), number(8)
			if p.Turned == study.Yes {
				d.HighNVPerCm = number(12.300000000000001)
			}
			if i == 2 {
				d.Used, d.NotUsedBecause = &no, "neither track nor distance"
			}
		}
		in.Passes = append(in.Passes, d)
	}
	estimate := dossier.Estimate{Median: number(16.158678043629571), CI95: dossier.Interval{Low: number(11.7)}, Mu: number(2.78), Sigma: number(0.59), LogLikelihood: number(-250.2)}
	none := dossier.Estimate{Why: "fewer than 5 identified animals"}
	in.Findings = dossier.Findings{
		Preference:  []dossier.Preference{{Species: "all", PassesActive: 2, TurnsActive: 1, PassesControl: 0, ExactP: number(1), MixedWhy: "no passes at control pairs", Boundary: []string{"individual_sd"}}},
		Descriptive: []dossier.Descriptive{{Species: "Scyliorhinus canicula", N: 1, Median: number(12.300000000000001)}},
		Thresholds:  []dossier.Thresholds{{Species: "Raja clavata", Passes: 2, Individuals: 1, Step: none, Lognormal: estimate, Individual: none}},
		Detection: []dossier.Detection{{
			Species: "Raja clavata", Passes: 2, Individuals: 1, Estimate: estimate, Lapse: number(0.25), SpontaneousPerS: number(math.NaN()),
			Sensitivity: []dossier.Sensitivity{{ReactionTimeS: 0, Median: number(20)}, {ReactionTimeS: 0.2, Why: "no turns"}},
		}},
		Individuals: []dossier.Individual{{ID: "SC1", Species: "Scyliorhinus canicula", PassesActive: 1, TurnsActive: 1, LowestTurn: number(12.300000000000001)}},
		Uncertainty: []dossier.Uncertainty{{What: "conductivity of the bottom", Unit: "S/m", How: "±1 SD", SD: number(0.1), Species: []dossier.UncertainMedian{{Species: "Raja clavata", Median: dossier.Interval{Low: number(15), High: number(math.Inf(1))}}}}},
	}
	return in
}

// smallHeading goes with it.
func smallHeading(in dossier.Input) dossier.Heading {
	return dossier.Heading{
		Format: 1, Name: in.Name, Program: in.Program, Made: in.Made.Format(time.RFC3339), Spec: in.Spec, People: in.People,
		Seed: 1, Invented: in.Invented, Sealed: in.Sealed, PDF: "chromium",
	}
}

// hostileInput has hostile text wherever people can write some.
func hostileInput(t *testing.T) dossier.Input {
	t.Helper()
	in := smallInput(t)
	s := in.Study
	s.Title, s.Question, s.Site.Name = hostile, hostile, hostile
	in.Facts.Place.Name, in.Facts.Protocol.Method, in.Facts.Privacy = hostile, hostile, []string{hostile}
	in.Name = hostile
	in.Spec = dossier.Choices{Title: hostile, Abstract: hostile, Keywords: []string{hostile, "", hostile}, Licence: hostile, Funding: hostile, DOI: hostile, Language: hostile}
	in.People = []dossier.Person{{Given: hostile, Family: hostile, ORCID: hostile, Affiliation: hostile, Email: hostile}, {Given: "\x00"}, {Family: hostile, Role: "contributor"}}
	in.Program = dossier.Build{Version: hostile, Commit: hostile}
	for i := range s.Trials {
		s.Trials[i].Note, s.Trials[i].Observers = hostile, hostile
	}
	for i := range s.Passes {
		p := &s.Passes[i]
		p.Response, p.Note, p.Scorer, p.SecondScorer, p.Sex, p.Clip = hostile, hostile, hostile, hostile+"2", hostile, hostile
		in.Passes[i].Scorer, in.Passes[i].Clip, in.Passes[i].NotUsedBecause = hostile, hostile, hostile
	}
	s.Species[0].Name = hostile
	for i := range s.Pairs {
		s.Pairs[i].Label += hostile
	}
	in.Waters[0].From = hostile
	in.Findings.Detection[0].Species, in.Findings.Detection[0].Why, in.Findings.Detection[0].Boundary = hostile, hostile, []string{hostile}
	in.Findings.Uncertainty[0].How = hostile
	return in
}

// filesOf makes a whole package.
func filesOf(t *testing.T, in dossier.Input, h dossier.Heading) map[string][]byte {
	t.Helper()
	data, err := dossier.DataFiles(in)
	if err != nil {
		t.Fatal(err)
	}
	if h.PDF != "" {
		data = append(data, dossier.File{Name: dossier.ReportPDF, Bytes: []byte("%PDF-1.7\n"), Media: "application/pdf"})
	}
	whole, err := dossier.Wrap(in, h, data)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.IsSortedFunc(whole, func(a, b dossier.File) int { return bytes.Compare([]byte(a.Name), []byte(b.Name)) }) {
		t.Error("the files are not in the byte order of their names")
	}
	out := map[string][]byte{}
	for _, f := range whole {
		if f.Media == "" {
			t.Errorf("%s has no media type", f.Name)
		}
		out[f.Name] = f.Bytes
	}
	return out
}

// rowsOf reads a table as anyone would.
func rowsOf(t *testing.T, file string, data []byte) []map[string]string {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, c := range r {
			m[rows[0][i]] = c
		}
		out = append(out, m)
	}
	return out
}
