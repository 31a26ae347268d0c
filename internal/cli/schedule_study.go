package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"brinefield/internal/app"
)

// takeCommand writes a sealed schedule into a study.
type takeCommand struct {
	studies
	Study    string   `arg:"" help:"Study: a name, or the path of its folder."`
	Document string   `arg:"" help:"Document of brinefield schedule --seal-to … --json, or - for standard input."`
	Holder   []string `required:"" sep:"none" help:"Who holds each key, or where it lies, in the order of sealed_to; given once for each key."`
	Author   string   `required:"" help:"Who writes it into the study." placeholder:"NAME"`
	Reason   string   `help:"Why, where a schedule is sealed there already."`
}

func (c *takeCommand) Run(ctx context.Context, out *Outside) error {
	text, err := out.ReadFile(c.Document)
	if err != nil {
		return badInput(err)
	}
	place, err := c.existing(out, c.Study)
	if err != nil {
		return err
	}
	return withStudy(ctx, out, place, func(study *app.Study) error {
		if _, err := study.TakeSchedule(ctx, app.TakeRequest{Document: string(text), Holders: c.Holder, Author: c.Author, Reason: c.Reason}); err != nil {
			return blindingError(err)
		}
		doc, err := study.ScheduleAsOpened(ctx)
		if err != nil {
			return blindingError(err)
		}
		_, err = fmt.Fprintf(out.Out, "The schedule is sealed in the study %s: %s, seal %s.\n", place.Name, plural(len(doc.Trials), "trial", "trials"), doc.Seal)
		return err
	})
}

// lockCommand locks scoring, which comes before the opening.
type lockCommand struct {
	studies
	Study         string `arg:"" help:"Study: a name, or the path of its folder."`
	Author        string `required:"" help:"Who locks it." placeholder:"NAME"`
	Reason        string `required:"" help:"Why now."`
	LeaveUnscored bool   `help:"Lock although passes are not scored."`
	Unlock        bool   `help:"Unlock it instead, as long as the schedule is not opened."`
}

func (c *lockCommand) Run(ctx context.Context, out *Outside) error {
	place, err := c.existing(out, c.Study)
	if err != nil {
		return err
	}
	return withStudy(ctx, out, place, func(study *app.Study) error {
		if c.Unlock {
			if _, err := study.UnlockScoring(ctx, app.UnlockRequest{Author: c.Author, Reason: c.Reason}); err != nil {
				return blindingError(err)
			}
			_, err := fmt.Fprintf(out.Out, "Scoring in the study %s is unlocked.\n", place.Name)
			return err
		}
		done, err := study.LockScoring(ctx, app.LockRequest{Author: c.Author, Reason: c.Reason, LeaveUnscored: c.LeaveUnscored})
		if err != nil {
			return blindingError(err)
		}
		said := "Scoring in the study %s is locked.\n"
		if len(done.Entries) == 0 {
			said = "Scoring in the study %s was locked already.\n"
		}
		_, err = fmt.Fprintf(out.Out, said, place.Name)
		return err
	})
}

// unsealStudy opens what is sealed in a study.
func (c *unsealCommand) unsealStudy(ctx context.Context, out *Outside) error {
	place, err := c.existing(out, c.What)
	if err != nil {
		return err
	}
	proof, err := c.proof(out)
	if err != nil {
		return err
	}
	return withStudy(ctx, out, place, func(study *app.Study) error {
		if c.Rehearse {
			got, err := study.RehearseKey(ctx, app.RehearseRequest{KeyProof: proof, Author: c.Author})
			if err != nil {
				return blindingError(err)
			}
			return sayRehearsed(out.Out, got.Public)
		}
		done, err := study.OpenActivePairs(ctx, app.OpeningRequest{
			Author: c.Author, Reason: c.Reason, Trials: c.Trial, KeyProof: proof, Lock: c.Lock, LeaveUnscored: c.LeaveUnscored,
		})
		if err != nil {
			return blindingError(err)
		}
		if len(done.Entries) == 0 {
			_, err := fmt.Fprintf(out.Out, "It was open already in the study %s.\n", place.Name)
			return err
		}
		what := "Which pair was active is open"
		if len(c.Trial) > 0 {
			what = "Which pair was active is open in " + strings.Join(c.Trial, ", ")
		}
		_, err = fmt.Fprintf(out.Out, "%s in the study %s. Who opened it, when and why is in its journal.\n", what, place.Name)
		return err
	})
}

// proof is the key with its passphrase; none where none is given.
func (c *unsealCommand) proof(out *Outside) (app.KeyProof, error) {
	if c.Key == "" {
		return app.KeyProof{}, nil
	}
	passphrase, err := readPassphrase(out, c.PassphraseFile)
	if err != nil {
		return app.KeyProof{}, err
	}
	text, err := out.ReadFile(c.Key)
	if err != nil {
		return app.KeyProof{}, badInput(err)
	}
	return app.KeyProof{Key: string(text), Passphrase: passphrase}, nil
}

func sayRehearsed(w io.Writer, public string) error {
	_, err := fmt.Fprintln(w, "The key opens this schedule, and it is the sealed one. Nothing of it was shown.")
	if err == nil && public != "" {
		_, err = fmt.Fprintf(w, "The key is that of\n%s\n", public)
	}
	return err
}

// blindingError marks what the user has to answer for, and what is not as it
// was sealed.
func blindingError(err error) error {
	var edit *app.EditError
	if errors.As(err, &edit) {
		lines := make([]string, len(edit.Faults))
		for i, f := range edit.Faults {
			lines[i] = fmt.Sprintf("%s: %s; %s", f.Kind, f.Wrong, f.Expected)
		}
		return badInput(errors.New(strings.Join(lines, "\n")))
	}
	if errors.Is(err, app.ErrNotSealed) {
		return &DifferenceError{err}
	}
	for _, known := range []error{app.ErrKey, app.ErrSchedule, app.ErrNoSchedule, app.ErrLocked} {
		if errors.Is(err, known) {
			return badInput(err)
		}
	}
	return err
}
