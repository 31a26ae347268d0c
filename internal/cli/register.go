package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"brinefield/internal/app"
)

type registerCommand struct {
	studies
	Study  string `arg:"" help:"Study: a name, or the path of its folder."`
	Author string `aliases:"by" help:"Who registers it; it is written into the journal." placeholder:"NAME"`
	Show   bool   `help:"Print the document as it would be registered, and write nothing."`
}

// missingWords say what each key of a document's missing parts is.
var missingWords = map[string]string{
	"title": "a title", "question": "the question", "site": "the site", "hypotheses": "hypotheses", "species": "the species", "method": "how a trial goes",
	"criteria": "which animals, passes and trials count", "stopping_rule": "a stopping rule", "analysis_plan": "an analysis plan",
	"analysis": "the settings of the analysis", "uncertainty": "how well the inputs are known", "seal": "a sealed schedule",
}

func (c *registerCommand) Run(ctx context.Context, out *Outside) error {
	place, err := c.existing(out, c.Study)
	if err != nil {
		return err
	}
	if !c.Show && strings.TrimSpace(c.Author) == "" {
		return badInput(errors.New("nobody is named; expected --author NAME, or --show to see the document and write nothing"))
	}
	return withStudy(ctx, out, place, func(study *app.Study) error {
		v, err := study.Preregistration(ctx)
		if err != nil {
			return err
		}
		if c.Show {
			_, err := fmt.Fprint(out.Out, v.Text)
			return err
		}
		v, err = study.Register(ctx, app.RegisterRequest{Author: c.Author, SHA256: v.SHA256})
		if err != nil {
			return registerError(err)
		}
		return c.say(out, v)
	})
}

func (c *registerCommand) say(out *Outside, v app.PreregistrationView) error {
	last := v.Registered[len(v.Registered)-1]
	fmt.Fprintf(out.Out, "Registered on %s as %s. SHA-256 %s\n", last.Written.When, last.ID, last.SHA256)
	if last.Late {
		fmt.Fprintln(out.Out, "The first trial had begun before that.")
	}
	if len(v.Missing) > 0 {
		missing := make([]string, len(v.Missing))
		for i, key := range v.Missing {
			missing[i] = missingWords[key]
		}
		fmt.Fprintf(out.Out, "It does not say: %s.\n", strings.Join(missing, ", "))
	}
	return nil
}

// registerError is what the user can mend, a line for each.
func registerError(err error) error {
	var edit *app.EditError
	if !errors.As(err, &edit) {
		return err
	}
	lines := make([]error, len(edit.Faults))
	for i, f := range edit.Faults {
		lines[i] = fmt.Errorf("%s; %s", f.Wrong, f.Expected)
	}
	return badInput(errors.Join(lines...))
}
