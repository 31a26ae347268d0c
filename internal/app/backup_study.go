package app

import (
	"context"
	"errors"
	"fmt"
	"strings"
)

// BackupDone says what a backup holds.
type BackupDone struct {
	Study string
	File  string
	Files int
	Bytes int64 // before packing
	// Footage counts the copies of footage among the files, and FootageBytes what
	// they hold. Outside are files of clips that lie elsewhere and are not in it.
	Footage      int
	FootageBytes int64
	Outside      int
}

// BackupShelf is a shelf that can also make backups and restore them.
type BackupShelf interface {
	StudyShelf
	// Backup writes a consistent copy of an open study into a new file, whole
	// or not at all, and replaces nothing.
	Backup(ctx context.Context, folder *StudyFolder, file string) (BackupDone, error)
	// Restore makes a new study of a backup: check is called with it open, and
	// it appears under its name only when check returns nil.
	Restore(ctx context.Context, backup, name string, check func(*StudyFolder) error) error
	// Copies lists the backups and exports that lie inside a study's folder.
	Copies(name string) []string
}

// BackupStudy writes a backup of a study on a shelf; also of one that another
// window has open.
func BackupStudy(ctx context.Context, shelf BackupShelf, study, file string) (done BackupDone, err error) {
	folder, err := shelf.Open(ctx, study)
	if err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, folder.Close()) }()
	if done, err = shelf.Backup(ctx, folder, file); err != nil {
		return done, err
	}
	done.Outside, err = newStudy(StudiesOptions{}, folder).footageOutside(ctx)
	return done, err
}

// RestoreStudy makes a new study of a backup and verifies it fully before it
// appears. What a verification finds is an error: such a backup is not
// restored.
func RestoreStudy(ctx context.Context, shelf BackupShelf, backup, study string, opt StudiesOptions, progress func(stage string, done, total int)) (VerifyDocument, error) {
	var doc VerifyDocument
	err := shelf.Restore(ctx, backup, study, func(folder *StudyFolder) error {
		var err error
		if doc, err = VerifyFolder(ctx, folder, opt, progress); err != nil {
			return err
		}
		if !doc.Same {
			return fmt.Errorf("the backup %s was not restored, because what it holds is damaged: %s; use another backup", backup, strings.Join(doc.Differences, "; "))
		}
		return nil
	})
	return doc, err
}

// VerifyFolder is [Study.Verify] of an open folder.
func VerifyFolder(ctx context.Context, folder *StudyFolder, opt StudiesOptions, progress func(stage string, done, total int)) (VerifyDocument, error) {
	return newStudy(opt, folder).Verify(ctx, progress)
}
