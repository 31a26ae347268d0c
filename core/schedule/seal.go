package schedule

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
)

// A schedule is committed to like this. Every trial and spare draw has a text,
// and a nonce of its own that is drawn from the seed; its commitment is the
// HMAC-SHA-256 of the text keyed with the nonce, which tells nothing of the text
// to whoever does not have the nonce, however few texts there may be. A leaf is a
// commitment, and where the trial also comes encrypted, the SHA-256 of that
// behind it. The plan's own text, which is public, is the first leaf. The root of
// the Merkle tree over them (RFC 9162) is the seal. docs/formats/seal.md says the same for those who check
// one without this program.

// planText is a plan as it is sealed: JSON with keys in this order.
type planText struct {
	Format       int       `json:"format"`
	Pairs        []string  `json:"pairs"`
	CurrentsUA   []float64 `json:"currents_uA"`
	Trials       int       `json:"trials"`
	Silent       int       `json:"silent"`
	Sham         int       `json:"sham"`
	OdourOff     int       `json:"odour_off"`
	DrawPolarity bool      `json:"draw_polarity"`
	Repeats      int       `json:"repeats"`
	MostAlike    int       `json:"most_alike"`
	Spare        int       `json:"spare"`
}

// Text is the plan as it is sealed.
func (p *Plan) Text() []byte {
	return mustJSON(planText{
		1, p.Pairs, p.CurrentsUA, p.Trials, p.Silent, p.Sham, p.OdourOff, p.DrawPolarity, p.repeats(), p.MostAlike, p.Spare,
	})
}

// trialText is a trial as it is sealed: JSON with keys in this order.
type trialText struct {
	Trial      string  `json:"trial"`
	Kind       string  `json:"kind"`
	ActivePair string  `json:"active_pair"`
	CurrentUA  float64 `json:"current_uA"`
	Odour      bool    `json:"odour"`
}

// Text is the trial as it is sealed. In a trial that drives no pair,
// active_pair is "none".
func (t *Trial) Text() []byte {
	pair := t.Pair
	if t.Kind != Active {
		pair = "none"
	}
	return mustJSON(trialText{t.ID, t.Kind, pair, t.SignedUA(), !t.OdourOff})
}

// mustJSON is for values of printable strings and finite numbers, which
// [Plan.Check] sees to. Letters stand as themselves.
func mustJSON(v any) []byte {
	var out bytes.Buffer
	encoder := json.NewEncoder(&out)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(v); err != nil {
		panic(fmt.Sprintf("schedule: %v", err))
	}
	return bytes.TrimSuffix(out.Bytes(), []byte{'\n'})
}

// nonce is that of a trial.
func (s Seed) nonce(id string) (out [SeedSize]byte) {
	mac := hmac.New(sha256.New, s[:])
	mac.Write([]byte("nonce of " + id))
	copy(out[:], mac.Sum(nil))
	return out
}

// Commitment is the HMAC-SHA-256 of a trial's text, keyed with its nonce.
func Commitment(t *Trial, nonce [SeedSize]byte) []byte {
	mac := hmac.New(sha256.New, nonce[:])
	mac.Write(t.Text())
	return mac.Sum(nil)
}

// all are the trials, then the spare draws.
func (s *Schedule) all() []*Trial {
	out := make([]*Trial, 0, len(s.Trials)+len(s.Spare))
	for i := range s.Trials {
		out = append(out, &s.Trials[i])
	}
	for i := range s.Spare {
		out = append(out, &s.Spare[i])
	}
	return out
}

// Commitments are those of the trials and then of the spare draws. They may be
// shown to anybody.
func (s *Schedule) Commitments(seed Seed) [][]byte {
	var out [][]byte
	for _, t := range s.all() {
		out = append(out, Commitment(t, seed.nonce(t.ID)))
	}
	return out
}

// Leaf is a commitment with the SHA-256 of the encrypted trial behind it; of one
// that comes without, sealed is "" and the leaf is the commitment.
func Leaf(commitment []byte, sealed string) []byte {
	if sealed == "" {
		return commitment
	}
	digest := sha256.Sum256([]byte(sealed))
	return append(slices.Clone(commitment), digest[:]...)
}

// Seal is the root over a plan and the leaves of its trials and then of its
// spare draws.
func Seal(plan Plan, leaves [][]byte) Hash {
	return merkleRoot(append([][]byte{plan.Text()}, leaves...))
}

func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// Nonces are those of the trials and then of the spare draws.
func (s *Schedule) Nonces(seed Seed) [][SeedSize]byte {
	var out [][SeedSize]byte
	for _, t := range s.all() {
		out = append(out, seed.nonce(t.ID))
	}
	return out
}
