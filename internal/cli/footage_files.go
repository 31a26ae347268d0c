package cli

import (
	"context"
	"fmt"
	"strings"
	"text/tabwriter"

	"brinefield/internal/app"
)

type footageImportCommand struct {
	studies
	Study  string   `arg:"" help:"Study: a name, or the path of its folder."`
	Files  []string `arg:"" help:"File of the clip, or the files that the camera split the recording into, in order." type:"path"`
	Clip   string   `help:"Name of the clip (default: that of the first file). A clip that the season names already gets its files." placeholder:"NAME"`
	Copy   bool     `help:"Copy the files into the study, so that they go into its backups; else they are read where they are."`
	Start  string   `help:"When the first frame was filmed, by the camera's clock, such as 2026-06-08T10:12:00+01:00 (default: what the file says of itself)." placeholder:"TIME"`
	Author string   `help:"Who imports it; it is written into the journal." placeholder:"NAME"`
}

func (c *footageImportCommand) Run(ctx context.Context, out *Outside) error {
	place, err := c.existing(out, c.Study)
	if err != nil {
		return err
	}
	return withStudy(ctx, out, place, func(study *app.Study) error {
		var progress func(stage string, done float64)
		if out.Bar != nil {
			progress = func(stage string, done float64) { out.Bar(stage, int(done*1000), 1000) }
		}
		clip, err := study.ImportFootage(ctx, app.FootageImportRequest{Author: c.Author, Clip: c.Clip, Files: c.Files, Copy: c.Copy, Start: c.Start}, progress)
		if err != nil {
			return stoppedOrInput(err)
		}
		fmt.Fprintf(out.Out, "The clip %s is in the study %s: %s in %s, %.1f s, begun %s by the camera's clock.\n",
			clip.Clip, place.Name, plural(clip.Frames, "frame", "frames"), plural(len(clip.Chapters), "file", "files"), clip.DurationS, clip.Start)
		for _, note := range clip.Notes {
			fmt.Fprintf(out.Out, "Note: %s\n", note)
		}
		for _, ch := range clip.Chapters {
			if ch.Proxy.State != "ready" && ch.Proxy.Why != "" {
				fmt.Fprintf(out.Out, "%s: %s; a small copy is made when the page Footage is opened.\n", ch.Name, ch.Proxy.Why)
			}
		}
		return nil
	})
}

type footageListCommand struct {
	studies
	Study string `arg:"" help:"Study: a name, or the path of its folder."`
	JSON  bool   `name:"json" help:"Print the list as one JSON document."`
}

func (c *footageListCommand) Run(ctx context.Context, out *Outside) error {
	place, err := c.existing(out, c.Study)
	if err != nil {
		return err
	}
	return withStudy(ctx, out, place, func(study *app.Study) error {
		clips, err := study.FootageList(ctx)
		if err != nil {
			return stoppedOrInput(err)
		}
		if c.JSON {
			return printJSON(out, struct {
				Format int                  `json:"format"`
				Study  string               `json:"study"`
				Clips  []app.FootageListing `json:"clips"`
			}{app.Format, place.Name, clips})
		}
		if len(clips) == 0 {
			fmt.Fprintf(out.Out, "The study %s has no clips.\n", place.Name)
			return nil
		}
		w := tabwriter.NewWriter(out.Out, 0, 4, 2, ' ', 0)
		fmt.Fprintln(w, "clip\tstart\tlength_s\tframes\tpicture\tpasses\tfile\twhere")
		for _, clip := range clips {
			lead := fmt.Sprintf("%s\t%s\t%.1f\t%d\t%d × %d %s\t%d", clip.Clip, clip.Start, clip.DurationS, clip.Frames, clip.WidthPx, clip.HeightPx, clip.Codec, len(clip.Passes))
			if len(clip.Chapters) == 0 {
				fmt.Fprintf(w, "%s\t\tno file imported\n", fmt.Sprintf("%s\t%s\t\t\t\t%d", clip.Clip, clip.Start, len(clip.Passes)))
			}
			for i, ch := range clip.Chapters {
				fmt.Fprintf(w, "%s\t%s\t%s\n", lead, ch.Name, strings.TrimSpace(ch.Place+" "+clip.Paths[i]))
				lead = strings.Repeat("\t", 5)
			}
		}
		return w.Flush()
	})
}
