package app

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"brinefield/core/study"
	"brinefield/internal/pictures"
)

// Fields of an attachment beside refField, which stands for the file itself.
const (
	attachedKind  = "kind" // photo or voice
	attachedAbout = "about"
	attachedTime  = "time"
)

var (
	// ErrNoAttachment answers for a reference that no standing photo or voice note
	// of the study has.
	ErrNoAttachment = errors.New("the study has no such photo or voice note, or it was withdrawn")
	// ErrNotHereYet answers for a file whose entry came in before it.
	ErrNotHereYet = errors.New("this photo or voice note is not here yet: the tablet that made it has not sent it")
	// ErrCannotClean answers for a file that may tell where it was made.
	ErrCannotClean = errors.New("this file cannot be handed out, because it may tell where and by whom it was made")
)

// AttachmentFile is a photo or a voice note with its file.
type AttachmentFile struct {
	ID   string // of the record
	Name string // a plain name for the file
	Type string // media type by the file itself; "" where it is none that is known
	Data []byte
}

// Attachment gives the file of a photo or a voice note that stands in the study,
// whichever device made it, as it came. Before it leaves the laptop it must be
// [AttachmentFile.Cleaned].
//
// Errors: [ErrNoAttachment]; [ErrNotHereYet]; [ErrErased].
func (s *Study) Attachment(ctx context.Context, ref string) (AttachmentFile, error) {
	current, err := s.current(ctx)
	if err != nil {
		return AttachmentFile{}, err
	}
	for _, state := range current.standing(study.KindAttachment) {
		if ref != "" && state.Fields[refField] == ref {
			return s.attachmentFile(ctx, state.Record)
		}
	}
	return AttachmentFile{}, ErrNoAttachment
}

func (s *Study) attachmentFile(ctx context.Context, r study.Record) (AttachmentFile, error) {
	data, err := s.folder.Erasable.Get(ctx, r.Fields[refField])
	var absent *AbsentError
	switch {
	case errors.As(err, &absent):
		return AttachmentFile{}, ErrNotHereYet // whether it should be here, verify says
	case err != nil:
		return AttachmentFile{}, err
	}
	kind := pictures.Kind(data)
	return AttachmentFile{ID: r.ID, Name: plainName(r.ID) + pictures.Extension(kind), Type: kind, Data: data}, nil
}

// Cleaned is the file as it may leave the laptop: of a photo without what tells
// where and by whom it was taken, a recording as it is. What a file is, it says
// itself, whatever its entry says.
//
// Errors: [ErrCannotClean].
func (f AttachmentFile) Cleaned() (AttachmentFile, error) {
	switch {
	case pictures.IsVoice(f.Type):
		return f, nil
	case !pictures.IsPhoto(f.Type):
		return AttachmentFile{}, fmt.Errorf("%w: it is neither a photo (JPEG, PNG, WebP) nor a recording (WebM, Ogg, MPEG-4, wave)", ErrCannotClean)
	}
	data, err := pictures.WithoutPlace(f.Data, f.Type)
	if err != nil {
		return AttachmentFile{}, fmt.Errorf("%w: %w", ErrCannotClean, err)
	}
	f.Data = data
	return f, nil
}

// plainName makes a name for a file of an ID, which may hold anything.
func plainName(id string) string {
	name := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_':
			return r
		}
		return '_'
	}, id)
	return "attachment-" + name[:min(len(name), 80)]
}
