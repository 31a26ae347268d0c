package cli

import (
	"context"
	"errors"
	"fmt"

	"brinefield/internal/app"
)

// studies is the flag that names the folder of studies.
type studies struct {
	Studies string `help:"Folder in which your studies lie (default: Brinefield in your home folder, or $$BRINEFIELD_STUDIES)." placeholder:"DIR" type:"path"`
}

// Place is where a study lies, or would.
type Place struct {
	Shelf  app.BackupShelf
	Folder string // of the shelf, as the user would write it
	Name   string
	Exists bool
}

// place finds the study that an argument names.
func (s studies) place(out *Outside, study string) (Place, error) {
	place, err := out.Find(s.Studies, study)
	return place, badInput(err)
}

// existing is place for a study that must be there.
func (s studies) existing(out *Outside, study string) (Place, error) {
	place, err := s.place(out, study)
	if err == nil && !place.Exists {
		err = badInput(fmt.Errorf("there is no study %s in %s", place.Name, place.Folder))
	}
	return place, err
}

// analysis are the choices of an analysis that commands offer.
type analysis struct {
	Seed            uint64 `help:"Seed of the randomisation test." default:"1"`
	TreatOldAsExact bool   `help:"Old data without tracks: take the field at the onset as the threshold itself, not as its upper bound."`
}

func (a analysis) options(program app.Program) app.AnalyseOptions {
	return app.AnalyseOptions{Seed: a.Seed, TreatOldAsExact: a.TreatOldAsExact, Program: program}
}

// studyOptions are what app needs for the studies of a place.
func (out *Outside) studyOptions(ctx context.Context, place Place, a analysis) app.StudiesOptions {
	opt := app.StudiesOptions{
		Shelf: place.Shelf, ShelfName: place.Folder, Program: out.Program, Clock: out.Clock, Random: out.Random, Sealer: out.Sealer, Media: out.Media,
		Analyse: a.options(out.Program), Background: ctx,
	}
	if out.Printer != nil {
		opt.Printer = out.Printer("")
	}
	return opt
}

// withStudy opens a study, does one thing with it and closes it.
func withStudy(ctx context.Context, out *Outside, place Place, do func(*app.Study) error) (err error) {
	all := app.NewStudies(out.studyOptions(ctx, place, analysis{Seed: 1}))
	defer func() { err = errors.Join(err, inputError(all.Close())) }()
	study, err := all.Study(ctx, place.Name)
	if err != nil {
		return inputError(err)
	}
	return inputError(do(study))
}

// inputError marks what the user or the disc has to answer for, so that it is
// not taken for a fault of the program.
func inputError(err error) error {
	var newer *app.NewerStudyError
	var damaged *app.DamagedError
	if errors.As(err, &newer) || errors.As(err, &damaged) {
		return badInput(err)
	}
	for _, known := range []error{
		app.ErrBadName, app.ErrReadOnly, app.ErrNoSpace, app.ErrUnknownStudy, app.ErrNotAStudy, app.ErrUnknownPerson, app.ErrBlind, app.ErrLooseSeason, app.ErrNotServing,
		app.ErrNoDeckLog, app.ErrOtherLog, app.ErrDeckRefused, app.ErrDeckUnfit, app.ErrNoAttachment, app.ErrNotHereYet,
	} {
		if errors.Is(err, known) {
			return badInput(err)
		}
	}
	return err
}

type exportCommand struct {
	studies
	Study   string `arg:"" help:"Study: a name, or the path of its folder."`
	Dir     string `arg:"" help:"New folder to write." type:"path"`
	Journal bool   `help:"Add the whole journal, and a text that explains the files and how to check them."`

	Pictures bool `help:"Add the photos, without what tells where and by whom they were taken, and a table of all that was attached. Look at them first: a photo may show people."`
}

func (c *exportCommand) Run(ctx context.Context, out *Outside) error {
	place, err := c.existing(out, c.Study)
	if err != nil {
		return err
	}
	return withStudy(ctx, out, place, func(study *app.Study) error {
		plain, err := study.ExportStudy(ctx, c.Journal)
		var faults *app.FaultsError
		if err != nil && !errors.As(err, &faults) {
			return err
		}
		var photos app.PicturesDone
		var more func(write func(name string, data []byte) error) error
		if c.Pictures {
			more = func(write func(name string, data []byte) error) (err error) {
				photos, err = study.ExportPictures(ctx, write)
				return err
			}
		}
		if err := out.WriteFolder(c.Dir, plain, more); err != nil {
			return stoppedOrInput(err)
		}
		fmt.Fprintf(out.Out, "The study %s is in %s as a season folder.\n", place.Name, c.Dir)
		if c.Pictures {
			fmt.Fprintf(out.Out, "%s in pictures; %s only listed in attachments.csv, which says why. A photo may show people: look at them before you give them away.\n",
				plural(photos.Written, "photo is", "photos are"), plural(photos.LeftOut, "attachment is", "attachments are"))
		}
		if faults != nil {
			fmt.Fprintf(out.Out, "It is not complete: %s keep it from being analysed. brinefield analyse %s lists them.\n", plural(len(faults.Faults), "fault", "faults"), place.Name)
		}
		return nil
	})
}

type backupCommand struct {
	studies
	Study string `arg:"" help:"Study: a name, or the path of its folder."`
	File  string `arg:"" help:"New file to write, ending in .zip." type:"path"`
}

func (c *backupCommand) Run(ctx context.Context, out *Outside) error {
	place, err := c.existing(out, c.Study)
	if err != nil {
		return err
	}
	done, err := app.BackupStudy(ctx, place.Shelf, place.Name, c.File)
	if err != nil {
		return stoppedOrInput(err)
	}
	fmt.Fprintf(out.Out, "The study %s is in the backup %s (%s). It holds which pairs were active and the names of people: keep it as you keep the study.\n", done.Study, done.File, plural(done.Files, "file", "files"))
	if done.Footage > 0 {
		fmt.Fprintf(out.Out, "Footage in it: %s, %.1f MB.\n", plural(done.Footage, "file", "files"), float64(done.FootageBytes)/1e6)
	}
	if done.Outside > 0 {
		fmt.Fprintf(out.Out, "Not in it: %s of footage that were not copied into the study. Back up the folder in which they lie by itself.\n", plural(done.Outside, "file", "files"))
	}
	return nil
}

type restoreCommand struct {
	studies
	Backup string `arg:"" help:"Backup file." type:"path"`
	Study  string `arg:"" help:"New study: a name, or the path of a folder that is not there yet."`
}

func (c *restoreCommand) Run(ctx context.Context, out *Outside) error {
	place, err := c.place(out, c.Study)
	if err != nil {
		return err
	}
	if place.Exists {
		return badInput(fmt.Errorf("there is already a study %s in %s: a backup is restored into a new one", place.Name, place.Folder))
	}
	doc, err := app.RestoreStudy(ctx, place.Shelf, c.Backup, place.Name, out.studyOptions(ctx, place, analysis{Seed: 1}), out.Bar)
	if err != nil {
		return stoppedOrInput(err)
	}
	fmt.Fprintf(out.Out, "The study %s was restored into %s and verified: %s, nothing differs.\n", place.Name, place.Folder, plural(int(doc.Entries), "entry", "entries"))
	return nil
}

// stoppedOrInput is for work on files that the user named: what goes wrong
// there is for the user to mend.
func stoppedOrInput(err error) error {
	if errors.Is(err, context.Canceled) {
		return err
	}
	return badInput(err)
}

type eraseCommand struct {
	studies
	Study  string `arg:"" help:"Study: a name, or the path of its folder."`
	Person string `required:"" xor:"what" help:"The person's name, as it is written in the study." placeholder:"NAME"`
	// Attachment is one photo or voice note.
	Attachment string `required:"" xor:"what" help:"A photo or a voice note, by the name of its record, such as 7c1e-a0001." placeholder:"ID"`
	Reason     string `help:"Why; it is written into the journal." placeholder:"TEXT"`
	Author     string `help:"Who erases it; it is written into the journal." placeholder:"NAME"`
	Yes        bool   `help:"Erase without asking."`
}

func (c *eraseCommand) Run(ctx context.Context, out *Outside) error {
	place, err := c.existing(out, c.Study)
	if err != nil {
		return err
	}
	if !c.Yes {
		what := fmt.Sprintf("the name %q", c.Person)
		if c.Attachment != "" {
			what = "the photo or voice note " + c.Attachment
		}
		yes, asked := out.Ask(fmt.Sprintf("Erase %s from the study %s? This cannot be taken back.", what, place.Name))
		switch {
		case !asked:
			return badInput(errors.New("erasing cannot be taken back and nobody is there to ask: add --yes to erase; nothing was changed"))
		case !yes:
			return badInput(errors.New("nothing was changed"))
		}
	}
	return withStudy(ctx, out, place, func(study *app.Study) error {
		if c.Attachment != "" {
			return c.attachment(ctx, out, study, place)
		}
		done, err := study.ErasePerson(ctx, c.Person, c.Author)
		if err != nil {
			return err
		}
		fmt.Fprintf(out.Out, "Erased from the study %s: %s. The entries stay valid and say \"erased person\".\n", done.Study, plural(done.Texts, "text", "texts"))
		if done.Corrected > 0 {
			fmt.Fprintf(out.Out, "In %s the name stood among others; those were kept.\n", plural(done.Corrected, "record", "records"))
		}
		return c.remains(ctx, out, study, place, done)
	})
}

// attachment erases a photo or a voice note.
func (c *eraseCommand) attachment(ctx context.Context, out *Outside, study *app.Study, place Place) error {
	if err := study.EraseAttachment(ctx, c.Attachment, c.Author, c.Reason); err != nil {
		return inputError(err)
	}
	fmt.Fprintf(out.Out, "Erased from the study %s: the photo or voice note %s. Its entry stays valid and says that it was erased.\n", place.Name, c.Attachment)
	fmt.Fprintln(out.Out, "The tablet that made it forgets it when it comes by; its saved logs, and exports with pictures and backups made before, hold it still. On a solid-state disc old contents may stay readable with special tools.")
	return nil
}

// remains says what still holds the name.
func (c *eraseCommand) remains(ctx context.Context, out *Outside, study *app.Study, place Place, done app.ErasureDone) error {
	if err := study.ExportNow(ctx); err != nil { // the one inside the study names nobody erased
		fmt.Fprintf(out.Out, "The plain export inside the study may still hold the name: %v.\n", err)
	}
	for _, what := range done.StillHeld {
		fmt.Fprintf(out.Out, "Still held: %s.\n", what)
	}
	for _, file := range place.Shelf.Copies(place.Name) {
		fmt.Fprintf(out.Out, "Look at: %s, which was made before or keeps what was changed by hand.\n", file)
	}
	fmt.Fprintln(out.Out, "Backups, exports and copies elsewhere hold the name too: this program cannot know of them. On a solid-state disc old contents may stay readable with special tools.")
	return nil
}
