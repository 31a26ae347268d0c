package sqlite

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"brinefield/internal/sqlite/studydb"
)

// deviceFile lies beside the databases. It tells this copy of a study from
// every other: two copies that wrote as the same device would both number
// their next entry n+1, and their journals could never be joined.
//
// At each opening for writing a new token goes into the file and into study.db,
// with the place of both files on the disc: their numbers in the file system,
// and when the token's file was made. A study whose database and file agree is
// the one that was opened last; it goes on as the same device. Where they do
// not agree, this is a copy, a restored backup, or an older database put back:
// it becomes a device of its own. That costs nothing but a second chain, so
// that every doubt is decided in this way.
//
// Not seen: a whole disc that is copied or set back block by block, and a
// study.db that is copied during a run of the program and written over the
// same file later, before the next opening.
const deviceFile = "device"

// bind finds out which device this copy of the study writes as.
func (s *Study) bind(ctx context.Context) error {
	here, err := studydb.New(s.read).Here(ctx)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	s.device = here.Device
	if s.opt.ReadOnly {
		return nil
	}
	same, err := s.sameCopy(here)
	if err != nil {
		return err
	}
	var fresh [24]byte // a device of 8 bytes, a token of 16
	if err := s.random.fill(fresh[:]); err != nil {
		return err
	}
	if !same {
		s.device = hex.EncodeToString(fresh[:8])
		if here.Device != "" {
			s.notes = append(s.notes, fmt.Sprintf("this is another copy of the study than the one that was opened last: it writes its entries as a device of its own (%s)", s.device))
		}
	}
	token := hex.EncodeToString(fresh[8:])
	if err := s.writeToken(token); err != nil {
		return err
	}
	place, err := s.place()
	if err != nil {
		return err
	}
	return s.change(ctx, func(ctx context.Context, q *studydb.Queries) error {
		if err := q.PutHere(ctx, s.device, token, place); err != nil {
			return err
		}
		return q.PutMeta(ctx, metaProgram, s.opt.Program)
	})
}

func (s *Study) sameCopy(here studydb.HereRow) (bool, error) {
	text, err := os.ReadFile(s.path(deviceFile))
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	token, _, _ := strings.Cut(string(text), "\n")
	if here.Device == "" || token != here.Token {
		return false, nil
	}
	place, err := s.place()
	return place == here.Place, err
}

// place is where on its disc this copy lies.
func (s *Study) place() (string, error) {
	database, err := numberOf(s.path(StudyFile))
	if err != nil {
		return "", err
	}
	file, err := numberOf(s.path(deviceFile))
	if err != nil {
		return "", err
	}
	made, err := madeAt(s.path(deviceFile))
	return fmt.Sprintf("%s %s %s", database, file, made), err
}

func (s *Study) writeToken(token string) (err error) {
	text := token + "\nTells this copy of the study from others. Do not copy or change it; it is made anew when it is missing.\n"
	f, err := os.CreateTemp(s.dir, "."+deviceFile+"-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = f.Close()
			_ = os.Remove(f.Name())
		}
	}()
	if _, err := f.WriteString(text); err != nil {
		return err
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), filepath.Join(s.dir, deviceFile)); err != nil {
		return err
	}
	return syncFolder(s.dir)
}
