package app

import (
	"fmt"
	"strings"
	"time"
)

// fileNotes say what each file of an export is.
var fileNotes = []struct{ name, note string }{
	{"study.toml", "what is asked, the site, the water, the bottom, the plates and pairs, the species, and the choices of the analysis (TOML, a plain text format)"},
	{"trials.csv", "one row for each trial: when it ran, which pair was active and with what current"},
	{"passes.csv", "one row for each pass: which animal came by which pair, whether it turned or bit, and when"},
	{"tracks.csv", "where the head was during each pass: seconds since the pass began, x, y and height in centimetres"},
	{"individuals.csv", "the animals that were recognised"},
	{"clips.csv", "the recordings and their clocks"},
	{fixesFile, "what tracks were measured from in the recordings: one row for each fix, with its frame, its pixel, who placed it and how, and where it is with its covariance"},
	{footageFile, "what is needed to measure again: cameras, the files of each recording with their SHA-256, where the camera was (every mark), clocks, and the frames in which passes begin and turn (JSON)"},
	{"water.csv", "the casts: readings of the water by time and depth"},
	{"preregistration.md", "what was planned, as it was registered last, with its date (Markdown, a plain text format); how to check that it was not changed since stands at its top"},
	{"schedule.json", "the schedule as it was sealed, opened as far as it is; brinefield verify schedule.json checks it against its seal, without a key"},
	{afterOpeningFile, "every value of a pass, a track, a clip or a trial that was recorded, changed or withdrawn after the active pair of its trial was opened to people, with who did it and why; of a track, how many fixes it had and has (there is no such file where nothing was)"},
	{"journal.jsonl", "everything that was ever written down or corrected, one entry a line (JSON), in the order in which it came in"},
}

// readme explains an export to somebody who has nothing but the files.
func readme(name string, data *Assembled, files Input, program Program, at time.Time) string {
	var b strings.Builder
	title := name
	if data.Study != nil && data.Study.Title != "" {
		title = data.Study.Title
	}
	fmt.Fprintf(&b, "%s\n%s\n\n", title, strings.Repeat("=", len([]rune(title))))
	fmt.Fprintf(&b, "A plain copy of the study in the folder %q, written on %s by Brinefield %s.\nIt can be read with a text editor and a spreadsheet; no program is needed.\n\n", name, at.Format("2 January 2006 at 15:04 MST"), program.Version)
	b.WriteString("The files\n---------\n\n")
	for _, f := range fileNotes {
		if _, there := files[f.name]; there || f.name == "journal.jsonl" {
			fmt.Fprintf(&b, "%s\n    %s.\n", f.name, f.note)
		}
	}
	b.WriteString(`
The tables are comma separated, in UTF-8, with a row of names at the top; the
names carry the units (x_cm, current_uA, onset_s). A blank cell was not
recorded. Times are ISO 8601; those without an offset are in the time zone that
study.toml names. Positions are in the plane of the bottom, from an origin that
the study chose; height is above the plate's top face, or above the bottom where
there is no plate. A pass is one animal coming by one pair once.
`)
	if _, clips := files["clips.csv"]; clips {
		b.WriteString(`
The recordings themselves are not part of this copy. clips.csv names their files;
those that were copied into the study lie in its folder footage/files, and the
SHA-256 of every file is in journal.jsonl (kind "footage").
`)
	}
	b.WriteString(sealedNote(data))
	if n := len(data.Faults); n > 0 {
		fmt.Fprintf(&b, "\nThe study is not complete: %d faults keep it from being analysed. The first:\n    %s\n", n, data.Faults[0].String())
	}
	b.WriteString(checkNote)
	return b.String()
}

func sealedNote(data *Assembled) string {
	if data.Blind {
		return `
Which pair was active is sealed: active_pair says "sealed" in every trial that
was not opened, and its currents are left out. They are in the study itself, in a
part of their own, or encrypted in schedule.json; whoever opens them is written
down in the journal.
`
	}
	return ""
}

const checkNote = `
How to check the journal
------------------------

Each line of journal.jsonl is one entry in the one form of RFC 8785: keys in
order, no blanks, UTF-8. The keys:

    id, device, seq     the entry's name; the device that wrote it, which counts
                        its entries from 1 without gaps
    wall                the device's clock, in UTC
    run, monotonic_us   the run of the program, and microseconds since it
                        began, which nobody can set back
    kind, subject, act  what the entry is about, and whether it was recorded,
                        corrected or removed
    body                fields: the values; was: what stood there before;
                        table: the rows of a track or a cast
    author, reason      who (a reference, so that a name can be erased) and why
    undoes              the entry whose effect it takes back
    version             of the kind's body
    previous            SHA-256 of the device's entry before, in hexadecimal;
                        64 zeros for its first

For each device, take its lines in the order of seq. The SHA-256 of a line (the
bytes without the line's end) must be the "previous" of the device's next line.
If it is, nothing before the device's last line was changed, left out or put in
between since it was written. Write down the SHA-256 of the last lines, with the
date, where nobody can change it: later it vouches for all of this file. A later
entry about the same record holds over an earlier one.

In the fields of a person, and as an author, "person:" and 64 digits stand for a
text that is kept in the study and can be erased there; the tables above show
the text. In a trial's assignment stands a reference to what was kept of which
pair was active, which tells nothing about it.
`
