package app

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"

	"brinefield/core/study"
	"brinefield/internal/pictures"
)

const (
	// PicturesFolder is where an export puts photos.
	PicturesFolder = "pictures"
	// attachmentsFile lists, beside a season in an export, what was attached.
	attachmentsFile = "attachments.csv"
)

// PicturesDone counts what an export of photos wrote.
type PicturesDone struct {
	Written int
	LeftOut int // listed, and without a file
}

// ExportPictures gives write the photos of a study one after another, cleaned of
// what tells where and by whom they were taken, as pictures/NAME, and then
// attachments.csv: of every attachment that stands, what it is about and when it
// was made, without who made it; its file and the SHA-256 of that, or why there is
// none. Voice notes are listed only: a voice tells who speaks.
//
// One photo at a time is in memory.
func (s *Study) ExportPictures(ctx context.Context, write func(name string, data []byte) error) (PicturesDone, error) {
	var done PicturesDone
	current, err := s.current(ctx)
	if err != nil {
		return done, err
	}
	rows := [][]string{{"id", "kind", "about", "time", "file", "sha256", "left_out"}}
	taken := map[string]bool{}
	for _, state := range current.standing(study.KindAttachment) {
		f := state.Fields
		row := []string{state.ID, f[attachedKind], f[attachedAbout], f[attachedTime], "", "", ""}
		file, why, err := s.picture(ctx, state.Record)
		if err != nil {
			return done, err
		}
		if why != "" {
			done.LeftOut++
			row[6] = why
		} else {
			name := PicturesFolder + "/" + unlike(taken, file.Name)
			if err := write(name, file.Data); err != nil {
				return done, err
			}
			sum := sha256.Sum256(file.Data)
			row[4], row[5] = name, hex.EncodeToString(sum[:])
			done.Written++
		}
		rows = append(rows, row)
	}
	var table bytes.Buffer
	if err := csv.NewWriter(&table).WriteAll(rows); err != nil {
		return done, err
	}
	return done, write(attachmentsFile, table.Bytes())
}

// picture is a photo as it may leave the laptop, or why it does not. A photo that
// is damaged keeps no other back: verify tells more of it.
func (s *Study) picture(ctx context.Context, r study.Record) (file AttachmentFile, why string, err error) {
	file, err = s.attachmentFile(ctx, r)
	switch {
	case ctx.Err() != nil:
		return file, "", ctx.Err()
	case errors.Is(err, ErrErased):
		return file, "erased", nil
	case errors.Is(err, ErrNotHereYet):
		return file, "not here yet", nil
	case err != nil:
		return file, "cannot be read", nil
	case pictures.IsVoice(file.Type):
		return file, "a voice", nil
	}
	if file, err = file.Cleaned(); err != nil {
		return file, "cannot be cleaned", nil
	}
	return file, "", nil
}

// unlike is a name that no other file has, also where capitals do not count.
func unlike(taken map[string]bool, name string) string {
	dot := strings.LastIndexByte(name, '.')
	free := name
	for n := 2; taken[strings.ToLower(free)]; n++ {
		free = fmt.Sprintf("%s-%d%s", name[:dot], n, name[dot:])
	}
	taken[strings.ToLower(free)] = true
	return free
}
