package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"

	"brinefield/core/study"
)

var (
	// ErrNoClip answers for a clip that the study does not have, a chapter that the
	// clip does not have, and a proxy that is not made.
	ErrNoClip = errors.New("there is no such footage in this study")
	// ErrFootageMissing answers for a file that is not where it was.
	ErrFootageMissing = errors.New("the file is not where it was when it was imported")
	// ErrFootage answers for a wish about footage that cannot be met; it is wrapped
	// with what would be right.
	ErrFootage = errors.New("this cannot be done with this footage")
)

// FootageMedia opens a chapter of a clip as its record names it, or its proxy: no
// request can name a file.
//
// Errors: [ErrNoClip]; [ErrFootageMissing].
func (s *Study) FootageMedia(ctx context.Context, clip string, chapter int, proxy bool) (FootageMediaFile, error) {
	files, err := s.footageFiles()
	if err != nil {
		return FootageMediaFile{}, err
	}
	st, err := s.folder.Journal.State(ctx, study.KindFootage, clip)
	if err != nil {
		return FootageMediaFile{}, err
	}
	if st == nil || st.Removed {
		return FootageMediaFile{}, fmt.Errorf("%w: no clip %q with files", ErrNoClip, clip)
	}
	chapters, err := chaptersOf(st)
	if err != nil {
		return FootageMediaFile{}, err
	}
	if chapter < 0 || chapter >= len(chapters) {
		return FootageMediaFile{}, fmt.Errorf("%w: the clip %s has %s, counted from 0, and no chapter %d", ErrNoClip, clip, counted(len(chapters), "chapter", "chapters"), chapter)
	}
	c := chapters[chapter]
	if proxy {
		return openProxy(files, c)
	}
	where, state := files.Place(c.SHA256)
	switch state {
	case PlaceMissing:
		return FootageMediaFile{}, fmt.Errorf("%s: %w; put the card or drive back in, or say on the page Footage where it is now", c.Name, ErrFootageMissing)
	case PlaceChanged:
		return FootageMediaFile{}, fmt.Errorf("%s: another file lies there now: %w; say on the page Footage where the right one is", c.Name, ErrFootageMissing)
	}
	r, err := files.Open(where)
	if err != nil {
		return FootageMediaFile{}, fmt.Errorf("%s cannot be read (%w): %w", c.Name, err, ErrFootageMissing)
	}
	return FootageMediaFile{FootageReader: r, Type: mediaType(c.Name), ETag: c.SHA256}, nil
}

func openProxy(files FootageFiles, c chapterRecord) (FootageMediaFile, error) {
	where, ready := files.Proxy(c.SHA256)
	if !ready {
		return FootageMediaFile{}, fmt.Errorf("%w: %s has no small copy, or it is not made yet", ErrNoClip, c.Name)
	}
	r, err := files.Open(where)
	if err != nil {
		return FootageMediaFile{}, fmt.Errorf("the small copy of %s cannot be read: %w", c.Name, err)
	}
	// It may be made again, and need not come out the same.
	tag := "proxy-" + c.SHA256 + "-" + strconv.FormatInt(r.Bytes(), 36) + "-" + strconv.FormatInt(r.Modified().UnixNano(), 36)
	return FootageMediaFile{FootageReader: r, Type: "video/mp4", ETag: tag}, nil
}

// mediaType is what a browser is told, by the ending of the file's name as it was
// imported; what it is not sure of it does not play.
func mediaType(name string) string {
	switch strings.ToLower(path.Ext(name)) {
	case ".mp4", ".m4v":
		return "video/mp4"
	case ".mov", ".qt":
		return "video/quicktime"
	case ".webm":
		return "video/webm"
	case ".mkv":
		return "video/x-matroska"
	case ".avi":
		return "video/x-msvideo"
	case ".ts", ".mts", ".m2ts":
		return "video/mp2t"
	case ".mpg", ".mpeg":
		return "video/mpeg"
	}
	return "application/octet-stream"
}

// FootageUpload keeps a file that a browser sends until an import takes it; what no
// import took is gone when the study is opened again.
//
// Errors: [ErrReadOnly]; [ErrNoSpace].
func (s *Study) FootageUpload(ctx context.Context, name string, bytes int64, from io.Reader) (string, error) {
	files, err := s.footageFiles()
	if err != nil {
		return "", err
	}
	if s.folder.ReadOnly {
		return "", ErrReadOnly
	}
	return files.Upload(ctx, name, bytes, from)
}

// FootageLook lists a folder of this laptop, and says which of its files are part
// of a clip already.
func (s *Study) FootageLook(ctx context.Context, in FootageLookRequest) (FootageLook, error) {
	files, err := s.footageFiles()
	if err != nil {
		return FootageLook{}, err
	}
	look, err := files.Look(ctx, strings.TrimSpace(in.Folder))
	if err != nil {
		if ctx.Err() == nil {
			err = fmt.Errorf("%w: %w", ErrFootage, err)
		}
		return look, err
	}
	clips, err := s.clipsByHash(ctx)
	if err != nil {
		return look, err
	}
	for i := range look.Files {
		look.Files[i].Clip = clips[files.Known(look.Files[i].Path)]
	}
	return look, nil
}

// clipsByHash says which clip holds a file.
func (s *Study) clipsByHash(ctx context.Context) (map[string]string, error) {
	records, err := s.footageRecords(ctx)
	if err != nil {
		return nil, err
	}
	clips := map[string]string{}
	for _, r := range records {
		for _, c := range r.chapters {
			clips[c.SHA256] = r.id
		}
	}
	return clips, nil
}
