package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// ErrLocked answers for a change of what is scored while scoring is locked.
var ErrLocked = errors.New("scoring is locked: nothing that is scored is changed before the active pairs are opened, unless somebody unlocks it with a reason (page Schedule)")

// scoredKinds are what scoring writes.
var scoredKinds = []study.Kind{study.KindPass, study.KindTrack, study.KindFixes}

var lockName = recordName{kind: study.KindLock}

// lockedDraft locks scoring.
func lockedDraft(by, reason string) journal.Draft {
	return journal.Draft{Author: by, Kind: study.KindLock, Act: journal.Record, Reason: reason, Body: journal.Body{Fields: map[string]string{"scoring": "locked"}}}
}

// mayScore refuses a change of a kind while scoring is locked. Once everything
// is opened it is allowed again, and marked.
func mayScore(current *standingRecords, right Right, kinds ...study.Kind) error {
	if right.Granted() || current.state(lockName) == nil || !slices.ContainsFunc(kinds, func(k study.Kind) bool { return slices.Contains(scoredKinds, k) }) {
		return nil
	}
	return ErrLocked
}

// unscored counts the passes of which nobody said whether the animal turned.
func unscored(current *standingRecords) int {
	n := 0
	for _, st := range current.standing(study.KindPass) {
		if st.Fields["turned"] == "" && st.Fields["bit"] != "yes" {
			n++
		}
	}
	return n
}

// lockFaults are what stands against locking.
func (e *edit) lockFaults(leaveUnscored bool) {
	if n := unscored(e.from.current); n > 0 && !leaveUnscored {
		e.fault(lockName, "scoring", counted(n, "pass is", "passes are")+" not scored yet", "expected all of them scored, or your word that they stay so")
	}
}

// LockScoring locks what is scored, so that the active pairs can be opened.
// Locked already, it writes nothing.
//
// Errors: [ErrReadOnly]; [*EditError].
func (s *Study) LockScoring(ctx context.Context, in LockRequest) (EditDone, error) {
	return s.changeLock(ctx, in.Author, in.Reason, func(e *edit, by string) []journal.Draft {
		if e.lockFaults(in.LeaveUnscored); e.from.current.state(lockName) != nil {
			e.faults = nil
			return nil
		}
		return []journal.Draft{lockedDraft(by, e.reason)}
	})
}

// UnlockScoring unlocks it again, as long as nothing but single trials is
// opened.
//
// Errors: [ErrReadOnly]; [*EditError].
func (s *Study) UnlockScoring(ctx context.Context, in UnlockRequest) (EditDone, error) {
	return s.changeLock(ctx, in.Author, in.Reason, func(e *edit, by string) []journal.Draft {
		switch {
		case e.right.Granted():
			e.fault(lockName, "scoring", "the active pairs are open: what is scored now is marked, and the lock stays as it was", "expected to unlock before the opening")
		case e.from.current.state(lockName) == nil:
			e.fault(lockName, "scoring", "scoring is not locked", "expected to unlock what is locked")
		}
		return []journal.Draft{{Author: by, Kind: study.KindLock, Act: journal.Remove, Reason: e.reason}}
	})
}

func (s *Study) changeLock(ctx context.Context, author, reason string, drafts func(e *edit, by string) []journal.Draft) (EditDone, error) {
	s.write.Lock()
	defer s.write.Unlock()
	done := EditDone{Entries: []EntryView{}}
	e, err := s.newEdit(ctx, strings.TrimSpace(reason))
	if err != nil {
		return done, err
	}
	e.wantNameAndReason(lockName, author, "locks or unlocks scoring")
	by, err := s.people.mark(ctx, strings.TrimSpace(author))
	if err != nil {
		return done, err
	}
	write := drafts(e, by)
	if err := e.failed(); err != nil || len(write) == 0 {
		return done, err
	}
	entries, err := s.append(ctx, write)
	if err != nil {
		return done, err
	}
	done.Entries, err = s.entryViews(ctx, e.right, entries)
	return done, err
}

func (e *edit) wantNameAndReason(name recordName, author, does string) {
	if strings.TrimSpace(author) == "" {
		e.fault(name, "author", "nobody is named", fmt.Sprintf("expected who %s", does))
	}
	if e.reason == "" {
		e.fault(name, "reason", "no reason is given", "expected why now")
	}
}
