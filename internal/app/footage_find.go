package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// FootageFind looks for files of a clip that are missing: in the file that is
// named, or in a folder, there for all that are missing in the study. What has the
// right size is read in the background, and remembered where its hash is right.
//
// Errors: [ErrReadOnly]; [ErrNoClip]; [ErrFootage].
func (s *Study) FootageFind(ctx context.Context, in FootageFindRequest) (FootageView, error) {
	files, _, err := s.writableChapters(ctx, in.Clip)
	if err != nil {
		return FootageView{}, err
	}
	where := strings.TrimSpace(in.Path)
	wanted, err := s.wanted(ctx)
	if err != nil {
		return FootageView{}, err
	}
	if len(wanted) == 0 {
		return s.Footage(ctx)
	}
	found, err := candidates(ctx, files, where, wanted)
	if err != nil {
		return FootageView{}, err
	}
	if len(found) == 0 {
		return FootageView{}, fmt.Errorf("%w: nothing there has the size of a file that is missing (%s); choose the card, drive or folder on which it lies", ErrFootage, missingWords(wanted))
	}
	if err := s.addJobs(&footageJob{What: jobFind, Clip: in.Clip, File: baseName(where), Path: where}); err != nil {
		return FootageView{}, err
	}
	return s.Footage(ctx)
}

// wantedFile is a file that is missing or was changed.
type wantedFile struct {
	clip string
	chapterRecord
}

func (s *Study) wanted(ctx context.Context) ([]wantedFile, error) {
	records, err := s.footageRecords(ctx)
	if err != nil {
		return nil, err
	}
	var out []wantedFile
	for _, r := range records {
		for _, c := range r.chapters {
			if _, state := s.placeOf(c.SHA256); state == PlaceMissing || state == PlaceChanged {
				out = append(out, wantedFile{r.id, c})
			}
		}
	}
	return out, nil
}

func missingWords(wanted []wantedFile) string {
	const most = 5
	var words []string
	for _, w := range wanted[:min(len(wanted), most)] {
		words = append(words, fmt.Sprintf("%s of the clip %s, %d bytes", w.Name, w.clip, w.Bytes))
	}
	if len(wanted) > most {
		words = append(words, counted(len(wanted)-most, "more", "more"))
	}
	return strings.Join(words, "; ")
}

// candidates are the files that could be some that are wanted, by their sizes.
func candidates(ctx context.Context, files FootageFiles, where string, wanted []wantedFile) ([]string, error) {
	sizes := make([]int64, len(wanted))
	for i, w := range wanted {
		sizes[i] = w.Bytes
	}
	if bytes, _, err := files.Stat(where); err == nil {
		if slices.Contains(sizes, bytes) {
			return []string{where}, nil
		}
		return nil, nil
	}
	found, err := files.Candidates(ctx, where, sizes)
	if err != nil && ctx.Err() == nil {
		err = fmt.Errorf("%w: %w", ErrFootage, err)
	}
	return found, err
}

func (s *Study) doFind(ctx context.Context, j *footageJob) error {
	files, err := s.footageFiles()
	if err != nil {
		return err
	}
	wanted, err := s.wanted(ctx)
	if err != nil {
		return err
	}
	found, err := candidates(ctx, files, j.Path, wanted)
	if err != nil {
		return err
	}
	var cannot []error
	looked := 0
	for i, where := range found {
		bytes, _, err := files.Stat(where)
		if err != nil || !slices.ContainsFunc(wanted, func(w wantedFile) bool { return w.Bytes == bytes }) {
			continue // gone, or what has this size was found already
		}
		looked++
		stage := fmt.Sprintf("Reading %s (%d of %d)", baseName(where), i+1, len(found))
		progress := func(done float64) {
			s.footage.work.tell(j, stage, (float64(i)+done)/float64(len(found)))
		}
		progress(0)
		sha256, _, err := files.Hash(ctx, where, progress)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			cannot = append(cannot, err)
			continue
		}
		k := slices.IndexFunc(wanted, func(w wantedFile) bool { return w.SHA256 == sha256 })
		if k < 0 {
			continue
		}
		if err := files.Refer(sha256, where); err != nil {
			return err
		}
		if err := s.timesAgain(ctx, wanted[k].chapterRecord, where); err != nil {
			return err
		}
		wanted = slices.Delete(wanted, k, k+1)
	}
	mine := slices.DeleteFunc(wanted, func(w wantedFile) bool { return w.clip != j.Clip })
	if len(mine) == 0 {
		return nil
	}
	return errors.Join(append([]error{fmt.Errorf("%s read, and still missing: %s", counted(looked, "file was", "files were"), missingWords(mine))}, cannot...)...)
}

// timesAgain reads the frame times of a file that this machine never had, and
// holds them against what its record says.
func (s *Study) timesAgain(ctx context.Context, c chapterRecord, where string) error {
	if t := s.mediaTools(ctx); !t.Found {
		return nil // they are read when they are asked for
	}
	p, err := s.probeAgain(ctx, c.SHA256, where)
	if err != nil {
		return err
	}
	if n := len(p.PTS); n != c.Frames || p.PTS[0] != c.FirstPTS || p.PTS[n-1] != c.LastPTS || p.TimeBase != c.TimeBase {
		return fmt.Errorf("%s: %d frames were found, and %d where it was imported: the programs that read frame times differ; bring the same version of ffmpeg to both laptops", c.Name, n, c.Frames)
	}
	return nil
}
