package app

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// The small interfaces that the tasks on a study need. Their promises are kept
// as a suite of tests (internal/storetest) that every database must pass.

// JournalStore is the append-only journal of one study and what is derived
// from it. Safe for concurrent use.
type JournalStore interface {
	// Append seals the drafts at the end of this device's chain, in order, and
	// folds them into the records: all of them, or none. When it returns, they
	// are on the disc. More drafts than one make one transaction. The ID of an
	// entry follows those of all entries about its record; that of an opening
	// follows all that are here.
	Append(ctx context.Context, drafts []journal.Draft) ([]journal.Entry, error)
	// Receive takes in entries of other copies of the study, given as their
	// canonical bytes in any order, and folds them into the records: all that
	// are new, or none. When it returns, they are on the disc. Entries that are
	// there already are passed over, also those of this very device. What lies
	// beyond a gap is not taken, and Received says from where on to send again.
	//
	// A record is what all its entries add up to in the order of their IDs,
	// whatever the order in which they came.
	//
	// Errors, after which nothing is there that was not before: bytes that are no
	// entry; *journal.ChainError; *journal.ForkError; an entry of a newer
	// program; an ID that another entry has.
	Receive(ctx context.Context, batch [][]byte) (Received, error)
	// ReceiveOffered is Receive of entries that were read with [OfferOf] already.
	ReceiveOffered(ctx context.Context, offer []journal.Offered) (Received, error)
	// Head says how far the journal is.
	Head(ctx context.Context) (JournalHead, error)
	// States gives the current records of the kinds named (all kinds: none
	// named), removed ones left out, in order of kind as named, then of the IDs of
	// their first entries: on one device the order of appearance, and the same
	// on every copy of the study that has the same entries.
	States(ctx context.Context, kinds ...study.Kind) ([]journal.State, error)
	// Counts says how many records of each kind stand, without reading them.
	Counts(ctx context.Context) (map[study.Kind]int, error)
	// State is one record, also a removed one; nil where there is none.
	State(ctx context.Context, kind study.Kind, id string) (*journal.State, error)
	// History gives every entry about one record, in the order of their IDs.
	History(ctx context.Context, kind study.Kind, id string) ([]journal.Entry, error)
	// Entry finds one entry; ErrUnknownEntry.
	Entry(ctx context.Context, id string) (journal.Entry, error)
	// Recent gives the newest entries, newest first, at most limit, that stand
	// before the position `before` (0: from the end), with the position of the
	// oldest one returned.
	Recent(ctx context.Context, before int64, limit int) ([]journal.Entry, int64, error)
	// All gives every entry in order of arrival: its canonical bytes and the
	// hash that was stored beside them.
	All(ctx context.Context) iter.Seq2[StoredEntry, error]
	// Rebuild makes all records again from the journal and reports whether they
	// came out the same. progress may be nil.
	Rebuild(ctx context.Context, progress func(done, total int)) (same bool, err error)
}

// StoredEntry is an entry as it lies in the store.
type StoredEntry struct {
	Position  int64
	Device    string
	Canonical []byte
	Hash      journal.Hash
}

// Received says what a batch of entries came to.
type Received struct {
	Devices []ReceivedDevice // in the order of their names
}

// AbsentError means that something to which an entry refers by its hash is not
// here. Where another device wrote the entry, it may still be on its way; else
// it was lost, and Lost says so.
type AbsentError struct {
	Ref  string
	Lost error
}

func (e *AbsentError) Error() string { return e.Lost.Error() }

func (e *AbsentError) Unwrap() error { return e.Lost }

// ReceivedDevice is what came of the entries of one device.
type ReceivedDevice struct {
	Device string
	New    int
	Known  int                // were there already
	Kinds  map[study.Kind]int // of the new ones
	Head   journal.Head       // the end of its chain here, the new ones counted in
	// Missing are the entries that must be sent before the Beyond that follow
	// them: send again from Missing.From on. nil where nothing is missing.
	Missing *journal.Gap
	Beyond  int
	SetBack []journal.SetBack // places among the new ones where its clock was set back
}

// ReceivedOf says what was merged; for stores.
func ReceivedOf(merged []journal.Merged) Received {
	out := Received{Devices: make([]ReceivedDevice, len(merged))}
	for i, m := range merged {
		d := ReceivedDevice{Device: m.Device, New: len(m.New), Known: m.Known, Kinds: map[study.Kind]int{}, Head: m.Head, Missing: m.Missing, Beyond: m.Beyond, SetBack: m.SetBack}
		for _, o := range m.New {
			d.Kinds[o.Kind]++
		}
		out.Devices[i] = d
	}
	return out
}

// OfferOf reads a batch of entries; for stores.
func OfferOf(ctx context.Context, batch [][]byte) ([]journal.Offered, error) {
	offer := make([]journal.Offered, len(batch))
	for i, canonical := range batch {
		if i%100 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		var err error
		if offer[i], err = journal.Offer(canonical); err != nil {
			return nil, fmt.Errorf("entry %d of %d that were sent: %w", i+1, len(batch), err)
		}
	}
	return offer, nil
}

// SameIDError means that an entry was offered with an ID that another has.
type SameIDError struct {
	ID      string
	Device  string // of the entry that was offered
	Seq     int64
	OfOther string // device of the entry that is here
	OtherAt int64
}

func (e *SameIDError) Error() string {
	return fmt.Sprintf("entry %d of device %s has the ID %s, which is here the ID of entry %d of device %s: no two entries have the same one", e.Seq, e.Device, e.ID, e.OtherAt, e.OfOther)
}

// JournalHead is how far a journal is.
type JournalHead struct {
	Entries  int64
	Position int64     // of the last entry
	LastWall time.Time // of the last entry; zero where there is none
	Device   string    // this device
	Devices  map[string]journal.Head
	// ClockBehind is how far this machine's clock is behind the last entry of
	// this device; 0 where it is not.
	ClockBehind time.Duration
}

// Assignment is what was guarded of one trial: the fields of
// study.GuardedFields that are not blank.
type Assignment map[string]string

// GuardedStore is the separate part of a study that holds which pair was
// active, the files that an import was made from, and every result that tells
// roles. The other stores cannot reach it.
type GuardedStore interface {
	// PutAssignments keeps assignments and returns a reference to each: the
	// hash of the assignment and of chance, which tells nothing about it.
	PutAssignments(ctx context.Context, assignments []Assignment) (refs []string, err error)
	// Assignments gives what was kept under the references, checked against
	// them. Only a holder of a right may ask; which trials it reaches is the
	// asker's business, for the store knows only references. *AbsentError where
	// one of them is not here.
	Assignments(ctx context.Context, right Right, refs []string) ([]Assignment, error)
	// TakeAssignments keeps what another device has made references to, all of
	// it or nothing, and says how much of it was not here before. When it
	// returns, it is on the disc. What is here already is passed over.
	//
	// Errors: those of [GuardedBlob.Check].
	TakeAssignments(ctx context.Context, blobs []GuardedBlob) (fresh int, err error)
	// PutOriginals keeps the files of an import byte for byte under its ID.
	PutOriginals(ctx context.Context, importID string, in Input) error
	// Originals gives them back, checked against their hashes.
	Originals(ctx context.Context, right Right, importID string) (Input, error)
	// PutResult caches a result under the fingerprint of its data and choices;
	// the newest eight are kept.
	PutResult(ctx context.Context, fingerprint, kind string, data []byte) error
	// Result gives a cached result; ErrNoResult. LatestResult gives the newest
	// of a kind with its fingerprint.
	Result(ctx context.Context, right Right, fingerprint, kind string) ([]byte, error)
	LatestResult(ctx context.Context, right Right, kind string) (fingerprint string, data []byte, err error)
}

// GuardedBlob is what a reference of another device stands for.
type GuardedBlob struct {
	Ref  string // SHA-256 of salt and body, in hexadecimal
	Salt []byte // 32 bytes
	Body []byte // a JSON object of texts in canonical form
}

// saltBytes of chance stand before all that a reference is made of.
const saltBytes = 32

// Check reads the body and holds it against its reference.
//
// Errors: [ErrOtherBlob]; one that says why the body is none.
func (b *GuardedBlob) Check() (Assignment, error) {
	if err := CheckBlob(b.Ref, b.Salt, b.Body); err != nil {
		return nil, err
	}
	var a Assignment
	if err := json.Unmarshal(b.Body, &a); err != nil || a == nil || !bytes.Equal(journal.CanonicalFields(a), b.Body) {
		return nil, fmt.Errorf("what %s stands for is no JSON object of texts in canonical form (RFC 8785)", b.Ref)
	}
	return a, nil
}

// CheckBlob holds salt and data against the reference that was made of them.
//
// Errors: [ErrOtherBlob].
func CheckBlob(ref string, salt, data []byte) error {
	h := sha256.New()
	h.Write(salt)
	h.Write(data)
	if len(salt) != saltBytes || hex.EncodeToString(h.Sum(nil)) != ref {
		return fmt.Errorf("reference %.64q: %w", ref, ErrOtherBlob)
	}
	return nil
}

// Right is the right to see which pair was active, in all trials or in some.
// The zero Right is none. [Study.right] makes one when the journal holds an
// opening. The only other is the custodian's, under which an import compares
// and shows nothing. Rights can be compared.
type Right struct {
	granted bool
	trials  string // that were opened by themselves, each in front of a line's end
}

// Granted reports whether this is the right to see everything.
func (r Right) Granted() bool { return r.granted }

// Some reports whether this is a right at all: a guarded store refuses the zero
// Right with ErrBlind.
func (r Right) Some() bool { return r.granted || r.trials != "" }

// Sees reports whether one trial may be seen.
func (r Right) Sees(trial string) bool {
	return r.granted || strings.Contains("\n"+r.trials, "\n"+trial+"\n")
}

// with is the right that sees more trials too.
func (r Right) with(trials []string) Right {
	if r.granted {
		return r
	}
	seen := slices.Collect(strings.Lines(r.trials))
	for _, trial := range trials {
		seen = append(seen, trial+"\n")
	}
	slices.Sort(seen)
	r.trials = strings.Join(slices.Compact(seen), "")
	return r
}

// ErasableStore holds what may have to be forgotten: names of people, voice,
// photos. Entries refer to it by hash, so that erasure leaves them valid.
type ErasableStore interface {
	// Put keeps data and returns its reference: the hash of chance and data.
	Put(ctx context.Context, data []byte) (ref string, err error)
	// Take keeps what another device has made a reference to, checked against
	// it, and says whether it was not here before. When it returns, it is on
	// the disc. ErrErased where it was erased here: it stays so. [ErrOtherBlob]
	// where salt and data are not what the reference was made of.
	Take(ctx context.Context, ref string, salt, data []byte) (fresh bool, err error)
	// Get gives it back, checked; ErrErased where it was erased, *AbsentError
	// where it is not here.
	Get(ctx context.Context, ref string) ([]byte, error)
	// Erase forgets it. Erasing twice is no error.
	Erase(ctx context.Context, ref string) error
	// Refs lists what is held.
	Refs(ctx context.Context) ([]string, error)
}

// StudyFolder is one study on the disc, opened. Close lets others write to it.
type StudyFolder struct {
	Name     string // of the folder
	Path     string // shown to the user, never sent to a page
	ReadOnly bool   // another window holds the lock, or the disc cannot be written
	Notes    []string
	Journal  JournalStore
	Guarded  GuardedStore
	Erasable ErasableStore
	Footage  FootageFiles
	Dossiers DossierStore // packages that were made; nil: there is no place for them
	// Check looks for damage: it returns what it found wrong, in words. full
	// reads everything; else what can be told in a moment.
	Check func(ctx context.Context, full bool, progress func(done, total int)) ([]string, error)
	// Snapshot writes a consistent copy of all that the study holds into a
	// new, empty folder; footage, which is never changed, is left to the backup.
	Snapshot func(ctx context.Context, dir string) error
	// WriteExport replaces the plain export inside the study folder, all files
	// or none, and ExportedAt says when that was done last.
	// An export that somebody changed is kept beside it under the name kept.
	WriteExport func(ctx context.Context, files map[string][]byte) (kept string, err error)
	ExportedAt  func() (time.Time, error)
	Close       func() error
}

// StudyShelf is the folder in which this person's studies lie.
type StudyShelf interface {
	// List names the folders in it that hold a study, without opening them.
	List() ([]string, error)
	// Create makes a new study: fill is called with it open, and it appears
	// under its name only when fill returns nil.
	Create(ctx context.Context, name string, fill func(*StudyFolder) error) error
	// Open opens one. A study of a newer program is a *NewerStudyError; a
	// damaged one is a *DamagedError.
	Open(ctx context.Context, name string) (*StudyFolder, error)
	// Look opens one for reading only, without keeping other windows from
	// writing to it. ReadOnly says whether Open would be able to write.
	Look(ctx context.Context, name string) (*StudyFolder, error)
}

// NewerStudyError means that a newer program has written the study.
type NewerStudyError struct {
	Study       string
	Found, Max  int    // schema versions
	WrittenWith string // version of the program that wrote it last
}

// DamagedError means that a study's database is torn or damaged.
type DamagedError struct {
	Study  string
	What   []string
	Backup string // the newest backup that was found, or ""
}

var (
	// ErrBlind answers whoever asks for the active pairs without the right.
	ErrBlind = errors.New("which pair was active is sealed: open the active pairs first")
	// ErrUnknownEntry answers for an entry that the journal does not have.
	ErrUnknownEntry = errors.New("there is no such entry in the journal")
	// ErrNoResult answers where nothing was cached.
	ErrNoResult = errors.New("there is no result yet")
	// ErrOtherBlob answers for something that does not fit its reference.
	ErrOtherBlob = errors.New("what was sent is not what its reference was made of (the SHA-256 of 32 bytes of chance and the data): it was changed on the way or on its device")
	// ErrErased answers for something that was erased.
	ErrErased = errors.New("this was erased")
	// ErrReadOnly answers for a change to a study that cannot be written.
	ErrReadOnly = errors.New("this study is open in another window, or its folder cannot be written: it is shown read-only here")
	// ErrNoSpace means that the disc is full. What was there is kept.
	ErrNoSpace = errors.New("the disc is full: nothing was changed; make room and try again")
	// ErrUnknownStudy answers for a study that the shelf does not have.
	ErrUnknownStudy = errors.New("there is no such study")
	// ErrNotAStudy means that a folder holds no study.
	ErrNotAStudy = errors.New("this folder holds no study")
)
