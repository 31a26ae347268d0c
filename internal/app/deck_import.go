package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"brinefield/core/journal"
)

// DeckImport takes in a log that a tablet saved as a file: all that is whole in it, in
// one go, and it lists what is not. The same file again adds nothing. A device of
// which another copy has gone on is left out, and told.
//
// What a tablet may not bring over the network is refused here too, the whole file:
// a file is no way round the rules. Entries of other laptops in it are taken as
// [Study.MergeJournal] does.
//
// Errors: [ErrReadOnly]; [ErrNoDeckLog]; [ErrOtherLog]; [ErrDeckRefused]; [ErrDeckUnfit].
func (s *Study) DeckImport(ctx context.Context, in DeckImportRequest) (DeckImported, error) {
	if s.folder.ReadOnly {
		return DeckImported{}, ErrReadOnly
	}
	f, err := readDeckLog([]byte(in.File))
	if err != nil {
		return DeckImported{}, err
	}
	identity, err := s.Identity(ctx)
	if err != nil {
		return DeckImported{}, err
	}
	if f.study != identity {
		return DeckImported{}, ErrOtherLog
	}
	var laptop Caller
	for i := range f.entries {
		if why := laptop.mayBring(&f.entries[i].Entry); why != "" {
			return DeckImported{}, fmt.Errorf("line %d, entry %d of device %s: %s: %w", f.places[i], f.entries[i].Seq, f.entries[i].Device, why, ErrDeckRefused)
		}
	}
	t, err := s.takeLog(ctx, f)
	if err != nil {
		return DeckImported{}, err
	}
	return imported(f, t), nil
}

// takeLog takes a log in, without the devices that do not fit what is here.
func (s *Study) takeLog(ctx context.Context, f *deckLogFile) (takenIn, error) {
	for {
		offered := len(f.entries)
		t, err := s.takeIn(ctx, f.entries, f.blobs)
		var fork *journal.ForkError
		var chain *journal.ChainError
		var sameID *SameIDError
		switch {
		case errors.As(err, &fork):
			f.faults = append(f.faults, fmt.Sprintf("of device %s nothing was taken in: its entry %d is here another one, so that two copies of that log have both gone on; "+
				"what only this file holds must be written down by hand", fork.Device, fork.Seq))
			f.without(fork.Device)
		case errors.As(err, &chain):
			f.faults = append(f.faults, fmt.Sprintf("of device %s nothing was taken in: entry %d: %s", chain.Device, chain.Seq, chain.Wrong))
			f.without(chain.Device)
		case errors.As(err, &sameID):
			f.faults = append(f.faults, fmt.Sprintf("of device %s nothing was taken in: %v", sameID.Device, sameID))
			f.without(sameID.Device)
		default:
			return t, err
		}
		if offered == len(f.entries) {
			return t, err // nothing was left out: the error stands
		}
	}
}

func imported(f *deckLogFile, t takenIn) DeckImported {
	done := DeckImported{Blobs: t.fresh, Devices: []string{}, Faults: append([]string{}, f.faults...), Notes: []string{}}
	for _, r := range t.entries.Devices {
		done.New += r.New
		done.Known += r.Known
		done.Devices = append(done.Devices, r.Device)
		if r.Missing != nil {
			done.Faults = append(done.Faults, fmt.Sprintf("of device %s, entries %d to %d are neither here nor in the file, so that the %d after them were not taken in", r.Device, r.Missing.From, r.Missing.To, r.Beyond))
		}
		for _, back := range r.SetBack {
			done.Notes = append(done.Notes, fmt.Sprintf("the clock of device %s was set back before its entry %d: from %s to %s", r.Device, back.Seq, back.Before.Format(time.RFC3339), back.After.Format(time.RFC3339)))
		}
	}
	for _, ref := range mapKeys(t.refused) {
		done.Faults = append(done.Faults, t.refused[ref].Error())
	}
	if n := len(t.erased); n > 0 {
		done.Notes = append(done.Notes, fmt.Sprintf("%s erased in this study and stay so: erase the file and the tablet's log too", counted(n, "name, picture or voice of the file was", "names, pictures or voices of the file were")))
	}
	slices.Sort(done.Devices)
	return done
}
