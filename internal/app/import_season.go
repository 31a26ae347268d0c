package app

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"brinefield/core/season"
	"brinefield/core/study"
)

// Input is a season folder in memory: file name to bytes.
type Input map[string][]byte

// Fingerprints are the SHA-256 of every file, in hex.
func (in Input) Fingerprints() map[string]string {
	prints := make(map[string]string, len(in))
	for name, data := range in {
		sum := sha256.Sum256(data)
		prints[name] = hex.EncodeToString(sum[:])
	}
	return prints
}

// FaultsError carries every fault of an input; each is one line for the user.
type FaultsError struct {
	Faults []season.Fault
}

func (e *FaultsError) Error() string {
	lines := make([]string, len(e.Faults))
	for i, f := range e.Faults {
		lines[i] = f.String()
	}
	return strings.Join(lines, "\n")
}

// Is makes errors.Is(err, ErrFaults) true.
func (e *FaultsError) Is(target error) bool { return target == ErrFaults }

// ReadSeason reads and checks a season folder. The error is a *FaultsError
// that holds every fault; the study is then what could be read.
func ReadSeason(in Input) (*study.Study, error) {
	s, faults := season.Read(season.Files(in), season.Options{Zone: time.LoadLocation})
	if len(faults) > 0 {
		return s, &FaultsError{Faults: faults}
	}
	return s, nil
}

// UnknownFiles names the files of a folder that belong neither to a season nor
// beside one in an export.
func UnknownFiles(in Input) []string {
	known := []string{"study.toml", "water.csv", "trials.csv", "passes.csv", "individuals.csv", "clips.csv", "tracks.csv"}
	var unknown []string
	for _, name := range slices.Sorted(maps.Keys(in)) {
		if !slices.Contains(known, name) && !slices.Contains(exportCompanions, name) && strings.HasSuffix(name, ".csv") {
			unknown = append(unknown, name)
		}
	}
	return unknown
}

func unknownFilesWarning(in Input) []string {
	unknown := UnknownFiles(in)
	if len(unknown) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("not read, because no season has a file of that name: %s", strings.Join(unknown, ", "))}
}
