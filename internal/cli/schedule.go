package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"brinefield/internal/app"
)

type scheduleCommand struct {
	Draw     drawCommand     `cmd:"" default:"withargs" help:"Draw which pair is active in which trial."`
	Key      keyCommand      `cmd:"" help:"Make a key to seal to: one for the lead, one to print and keep for recovery."`
	Unseal   unsealCommand   `cmd:"" help:"Open a sealed schedule, or some of its trials, and check it against its seal."`
	Take     takeCommand     `cmd:"" help:"Write a sealed schedule into a study."`
	Lock     lockCommand     `cmd:"" help:"Lock scoring in a study, so that its schedule can be opened."`
	Register registerCommand `cmd:"" help:"Write down in a study what is planned, as one dated document, or show it."`
}

type drawCommand struct {
	Pairs     []string  `required:"" help:"Labels of the pairs, comma separated."`
	Trials    int       `required:"" help:"All trials, silent ones and shams among them."`
	Currents  []float64 `name:"currents-uA" required:"" help:"Currents in µA, comma separated."`
	Silent    int       `help:"How many trials drive no pair."`
	Sham      int       `help:"In how many the switch is thrown to no pair."`
	OdourOff  int       `name:"odour-off" help:"In how many driven trials the odour stays off."`
	Polarity  bool      `help:"Draw the polarity too; a negative current flows the other way."`
	Repeats   int       `help:"How often a block holds each pair." default:"1"`
	MostAlike int       `name:"most-alike" help:"How many driven trials running may have the same pair; 0 is no limit."`
	Spare     int       `help:"Further draws, for protocols that draw again after a bite."`
	PerDay    int       `name:"per-day" help:"Trials of a day, for the balance over days and times."`
	Seed      *uint64   `help:"Draw the schedule of this seed again; without it one is drawn and told."`
	SealTo    []string  `name:"seal-to" sep:"none" help:"A public key (age1…); may be given again, and must be: at least two, one of them for recovery. The document then tells nothing of what was drawn."`
	JSON      bool      `name:"json" help:"Print the whole document as JSON instead of a table."`
}

func (c *drawCommand) Run(_ context.Context, out *Outside) error {
	doc, err := app.DrawSchedule(app.ScheduleQuestion{
		Plan: app.SchedulePlan{
			Pairs: c.Pairs, CurrentsUA: c.Currents, Trials: c.Trials, Silent: c.Silent, Sham: c.Sham, OdourOff: c.OdourOff,
			DrawPolarity: c.Polarity, Repeats: c.Repeats, MostAlike: c.MostAlike, Spare: c.Spare,
		},
		PerDay: c.PerDay, Seed: c.Seed, SealTo: c.SealTo,
	}, out.Sealer, out.Random, out.Program)
	if errors.Is(err, app.ErrSchedule) || errors.Is(err, app.ErrKey) {
		return badInput(err)
	}
	if err != nil {
		return err
	}
	if c.JSON {
		return printJSON(out, doc)
	}
	return printSchedule(out, &doc)
}

type keyCommand struct {
	Write          string `required:"" type:"path" help:"New file for the secret key; only you may read it."`
	PassphraseFile string `name:"passphrase-file" help:"File whose one line is a passphrase that protects the secret key, or - for standard input."`
}

func (c *keyCommand) Run(_ context.Context, out *Outside) error {
	passphrase, err := readPassphrase(out, c.PassphraseFile)
	if err != nil {
		return err
	}
	key, err := app.NewKey(out.Sealer, passphrase)
	if err != nil {
		return err
	}
	if err := out.WriteSecret(c.Write, []byte(key.Secret)); err != nil {
		return badInput(err)
	}
	_, err = fmt.Fprintln(out.Out, key.Public)
	return err
}

// readPassphrase reads the one line of a file, as other programs of the age
// format would be given it: nothing but the end of the line is dropped. Without
// a path it is "".
func readPassphrase(out *Outside, path string) (string, error) {
	if path == "" {
		return "", nil
	}
	data, err := out.ReadFile(path)
	if err != nil {
		return "", badInput(err)
	}
	text := strings.TrimSuffix(strings.TrimSuffix(string(data), "\n"), "\r")
	text = strings.TrimPrefix(text, "\ufeff") // some editors write it in front, and nobody sees it
	switch {
	case text == "":
		return "", badInput(fmt.Errorf("%s: the file of the passphrase is empty; expected the passphrase on one line", inputName(path)))
	case !utf8.ValidString(text) || strings.ContainsFunc(text, unicode.IsControl):
		return "", badInput(fmt.Errorf("%s: this is no passphrase: it has several lines, or letters that nobody can type; expected one line of UTF-8 text", inputName(path)))
	}
	return text, nil
}

type unsealCommand struct {
	studies
	What           string   `arg:"" name:"study-or-document" help:"Study (a name, or the path of its folder): that it was opened is written down there. Or the document of brinefield schedule: a file that ends with .json, or - for standard input."`
	Key            string   `help:"File with a secret key; needed where a schedule is sealed."`
	PassphraseFile string   `name:"passphrase-file" help:"File whose one line is the passphrase that protects the key, or - for standard input."`
	Trial          []string `help:"Open only this trial; may be given again."`
	Rehearse       bool     `help:"Only see whether the key opens it; nothing of the schedule is shown."`
	Author         string   `help:"In a study: who opens it." placeholder:"NAME"`
	Reason         string   `help:"In a study: why now."`
	Lock           bool     `help:"In a study: lock scoring in the same step; opening all of it wants scoring locked."`
	LeaveUnscored  bool     `help:"In a study: lock although passes are not scored."`
}

func (c *unsealCommand) Run(ctx context.Context, out *Outside) error {
	if !isSchedule(c.What) {
		return c.unsealStudy(ctx, out)
	}
	doc, err := readSchedule(out, c.What)
	if err != nil {
		return err
	}
	proof, err := c.proof(out)
	if err != nil {
		return err
	}
	secret, err := out.Sealer.Unlock(proof.Key, proof.Passphrase)
	if err != nil {
		return badInput(err)
	}
	opened := doc
	if len(c.Trial) == 0 || c.Rehearse {
		opened, err = app.UnsealSchedule(doc, secret, out.Sealer, out.Program)
	}
	for i := 0; i < len(c.Trial) && err == nil && !c.Rehearse; i++ {
		opened, err = app.UnsealTrial(opened, c.Trial[i], secret, out.Sealer)
	}
	switch {
	case errors.Is(err, app.ErrNotSealed):
		return &DifferenceError{err}
	case err != nil:
		return badInput(err)
	case c.Rehearse:
		public, err := out.Sealer.PublicOf(secret)
		if err != nil {
			return badInput(err)
		}
		return sayRehearsed(out.Out, public)
	}
	return printJSON(out, opened)
}

// isSchedule reports whether what is to be verified is the document of a
// schedule and not a study.
func isSchedule(name string) bool { return name == "-" || strings.HasSuffix(name, ".json") }

// verifySchedule checks a schedule, sealed or opened, against its seal; that
// needs no key.
func verifySchedule(out *Outside, file string) error {
	doc, err := readSchedule(out, file)
	if err != nil {
		return err
	}
	return reportSchedule(out, doc)
}

// reportSchedule checks a schedule against its seal and says what was found.
func reportSchedule(out *Outside, doc *app.ScheduleDocument) error {
	differences := app.CheckSchedule(doc)
	if len(differences) > 0 {
		return &DifferenceError{errors.New(strings.Join(differences, "\n"))}
	}
	opened := 0
	for _, t := range doc.Trials {
		if t.Kind != "" {
			opened++
		}
	}
	_, err := fmt.Fprintf(out.Out, "The schedule is the sealed one: %s, %d of them opened, seal %s.\n", plural(len(doc.Trials), "trial", "trials"), opened, doc.Seal)
	return err
}

func readSchedule(out *Outside, path string) (*app.ScheduleDocument, error) {
	data, err := out.ReadFile(path)
	if err != nil {
		return nil, badInput(err)
	}
	doc, err := app.ReadSchedule(inputName(path), data)
	if err != nil {
		return nil, badInput(err)
	}
	return doc, nil
}

// printSchedule prints a schedule for people.
func printSchedule(out *Outside, d *app.ScheduleDocument) error {
	var b strings.Builder
	switch {
	case d.Sealed != "":
		fmt.Fprintf(&b, "Sealed to %s. Keep the document (--json): this summary is not it.\n", plural(len(d.SealedTo), "key", "keys"))
	default:
		fmt.Fprintf(&b, "%-6s %-7s %-8s %10s  %s\n", "trial", "kind", "pair", "current/µA", "odour")
		for _, t := range append(d.Trials[:len(d.Trials):len(d.Trials)], d.Spare...) {
			odour := "on"
			if !*t.Odour {
				odour = "off"
			}
			fmt.Fprintf(&b, "%-6s %-7s %-8s %10g  %s\n", t.Trial, t.Kind, t.ActivePair, *t.CurrentUA, odour)
		}
		fmt.Fprintf(&b, "\nA blind guess hits %.0f %%; of somebody who is told each trial's pair afterwards and knows the blocks, at best %.0f %%.\nSeed %d.\n",
			100*d.Chance.Blind, 100*d.Chance.WithBlocks, *d.Seed)
	}
	fmt.Fprintf(&b, "Rule for study.toml: [schedule] rule = %q, block = %d", d.Rule.Rule, d.Rule.Block)
	if d.Rule.MostAlike > 0 {
		fmt.Fprintf(&b, ", most_alike = %d", d.Rule.MostAlike)
	}
	fmt.Fprintf(&b, "\nSeal %s\n", d.Seal)
	for _, w := range d.Warnings {
		fmt.Fprintln(&b, w)
	}
	_, err := fmt.Fprint(out.Out, b.String())
	return err
}
