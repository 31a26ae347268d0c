// Package access is who gets in when the laptop serves tablets: codes that
// pair a device, the tokens that devices keep, the role of each device in each
// study, what a role may do, and a list of who was let in, changed or refused.
// Everything that is not allowed by the table in rules.go is refused.
//
// Make a [Keeper] with [New]; its clock, its randomness and where it keeps what
// it knows are handed in. The browser on the laptop itself is not its business:
// whoever owns the disc has all rights.
package access

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"sync"
	"time"
)

const (
	// CodeLife is for how long a pairing code is good.
	CodeLife = 2 * time.Minute
	// CodeTries is how many wrong codes void the one that is good, whoever
	// tries.
	CodeTries = 5
	// codeLetters are 21 letters and digits, no two of which look or sound
	// alike on a wet screen: 8 of them are 35 bits, and 5 tries find a code once
	// in 7 thousand million.
	codeLetters = "ACDEFHJKMNPRTVWXY3479"
	codeLength  = 8
	tokenBytes  = 32
	// TokenLife is for how long a token is good: longer than a field season, so
	// that nobody stands on a boat with a tablet that was let go, and short
	// enough that one which was forgotten in a drawer is worth nothing.
	TokenLife   = 90 * 24 * time.Hour
	longestName = 60
	// MostNames is how many names a tablet may bring from before.
	MostNames = 20
	// seenEvery and refusedEvery are how often "last seen" and refusals are
	// written to the disc at most: no stranger can wear it out.
	seenEvery    = time.Minute
	refusedEvery = 10 * time.Second
)

var (
	// ErrCode: the pairing code is wrong, used, too old, or void. One sentence
	// for all of them: whoever guesses learns nothing.
	ErrCode = errors.New("this code is not good: expected the one that the laptop shows now (a code is good for 2 minutes, once, and 5 wrong tries void it)")
	// ErrToken: no device that may come in has this token.
	ErrToken = errors.New("this device is not paired with this laptop, or no longer; pair it again with a code from the laptop")
	// ErrEnded: the device's token is past its end. It is an ErrToken too.
	ErrEnded = fmt.Errorf("%w: its token was good for 90 days. It may go on logging: nothing of that is lost, and paired again it goes on as the same device", ErrToken)
	// ErrRight: the device is known, and its role may not do this.
	ErrRight = errors.New("this device's role may not do this")
	// ErrDevice: there is no such device.
	ErrDevice = errors.New("there is no such device")
	// ErrBad: a name, a role or a study that cannot be.
	ErrBad = errors.New("this cannot be")
)

// Device is a paired tablet. It holds no secret: the token's SHA-256 is of no
// use to whoever reads it.
type Device struct {
	ID        string          `json:"id"` // 16 hexadecimal digits
	Name      string          `json:"name"`
	Writes    []string        `json:"writes"`       // names under which it writes entries, the one in use first
	TokenHash string          `json:"token_sha256"` // hexadecimal
	Roles     map[string]Role `json:"roles"`        // by the study's identity
	Paired    time.Time       `json:"paired"`
	Seen      time.Time       `json:"seen"` // to the minute
	Revoked   *time.Time      `json:"revoked,omitempty"`
}

// State is everything that is kept. Codes are not: they end with the program.
type State struct {
	Devices []Device `json:"devices"`
	Audit   []Event  `json:"audit"`
	Sights  []Sight  `json:"seen"`
	// Dropped counts refusals that made room for newer ones.
	Dropped       int `json:"dropped_refusals"`
	DroppedSights int `json:"dropped_seen"`
}

// Ends is when the device's token ends.
func (d Device) Ends() time.Time { return d.Paired.Add(TokenLife) }

// Store keeps a [State]: Save is whole or not at all, and on the disc when it
// returns. Load of a store that was never saved is an empty State.
type Store interface {
	Load() (State, error)
	Save(State) error
}

// Keeper decides who gets in. It is safe for use by several goroutines; what
// one call changes, the next one obeys.
type Keeper struct {
	store  Store
	clock  func() time.Time
	random io.Reader

	mu      sync.Mutex
	state   State
	code    *code // the one that is good, or nil
	unsaved bool
	saved   time.Time
}

type code struct {
	hash  [sha256.Size]byte
	study string
	role  Role
	by    string
	ends  time.Time
	wrong int
}

// New reads what the store keeps. Errors: those of the store; then nobody gets
// in, rather than somebody who was revoked.
func New(store Store, clock func() time.Time, random io.Reader) (*Keeper, error) {
	state, err := store.Load()
	if err != nil {
		return nil, err
	}
	if err := state.Check(); err != nil {
		return nil, err
	}
	return &Keeper{store: store, clock: clock, random: random, state: state, saved: clock()}, nil
}

// NewCode makes the pairing code that lets one device in with a role in a
// study; by is who asked for it, on the laptop. It voids the code before: only
// one is good at a time, so that a wrong try counts against it.
func (k *Keeper) NewCode(study string, role Role, by string) (text string, ends time.Time, err error) {
	if study == "" || !role.known() {
		return "", time.Time{}, fmt.Errorf("%w: study %q, role %q; expected a study and one of %s", ErrBad, study, role, listOfRoles())
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	letters, err := k.letters(codeLength)
	if err != nil {
		return "", time.Time{}, err
	}
	now := k.clock()
	k.code = &code{hash: sha256.Sum256([]byte(letters)), study: study, role: role, by: by, ends: now.Add(CodeLife)}
	k.note(now, Event{What: CodeMade, Study: study, Role: role, By: by})
	if err := k.save(now); err != nil {
		k.code = nil
		return "", time.Time{}, err
	}
	return letters[:codeLength/2] + "-" + letters[codeLength/2:], k.code.ends, nil
}

// Pair lets a device in that brings the code: it is used up, and the token is
// what the device shows from now on. The token is given once and kept nowhere
// here. was are the names under which it wrote entries before, here or
// elsewhere: it goes on as those, and whoever had one of them here has it no
// longer. Without any it gets a new one.
//
// Errors: [ErrCode]; [ErrBad] for names that cannot be, which is no try; the
// store's, and then nobody was let in.
func (k *Keeper) Pair(typed, name string, was ...string) (Device, string, error) {
	name, err := cleanName(name)
	if err != nil {
		return Device{}, "", err
	}
	writes, err := cleanWrites(was)
	if err != nil {
		return Device{}, "", err
	}
	hash := sha256.Sum256([]byte(plain(typed)))
	k.mu.Lock()
	defer k.mu.Unlock()
	secret, err := k.chance(tokenBytes)
	if err != nil {
		return Device{}, "", err
	}
	id, err := k.freeID()
	if err != nil {
		return Device{}, "", err
	}
	now := k.clock()
	good := k.code
	if !good.standsAt(now) {
		k.code = nil
		k.refuse(now, Event{What: Refused, Name: name, Why: "a pairing code where none is good"})
		return Device{}, "", ErrCode
	}
	if subtle.ConstantTimeCompare(hash[:], good.hash[:]) != 1 {
		if good.wrong++; good.wrong >= CodeTries {
			k.code = nil
		}
		k.refuse(now, Event{What: Refused, Name: name, Study: good.study, Why: "a wrong pairing code"})
		return Device{}, "", ErrCode
	}
	k.code = nil
	token := base64.RawURLEncoding.EncodeToString(secret)
	d := Device{
		ID: id, Name: name, Writes: writes, TokenHash: hashOf(token), Roles: map[string]Role{good.study: good.role},
		Paired: now, Seen: now,
	}
	if len(writes) == 0 {
		d.Writes = []string{writesPrefix + id[:writesDigits]}
	}
	before := k.copy()
	k.note(now, Event{What: Paired, Device: d.ID, Name: name, Study: good.study, Role: good.role, By: good.by})
	k.takeOver(now, d, writes)
	k.state.Devices = append(k.state.Devices, d)
	if err := k.save(now); err != nil {
		k.state = before
		return Device{}, "", err
	}
	return d.clone(), token, nil
}

// CodeEnds is until when the pairing code is good; false where none is.
func (k *Keeper) CodeEnds() (time.Time, bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if now := k.clock(); !k.code.standsAt(now) {
		return time.Time{}, false
	}
	return k.code.ends, true
}

func (c *code) standsAt(now time.Time) bool {
	return c != nil && now.Before(c.ends) && !now.Before(c.ends.Add(-CodeLife))
}

// Bearer is the device that a token belongs to, whatever it asks for.
// Errors: [ErrToken], [ErrEnded].
func (k *Keeper) Bearer(token, operation string) (Device, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	d, err := k.known(k.clock(), token, operation)
	if err != nil {
		return Device{}, err
	}
	return d.clone(), nil
}

// known is the device with a token that is good now.
func (k *Keeper) known(now time.Time, token, operation string) (*Device, error) {
	d := k.bearer(token)
	if d == nil {
		k.refuse(now, Event{What: Refused, Operation: known(operation), Why: "an unknown token"})
		return nil, ErrToken
	}
	if d.Revoked != nil {
		k.refuse(now, Event{What: Refused, Device: d.ID, Name: d.Name, Operation: known(operation), Why: "a revoked device"})
		return nil, ErrToken
	}
	if !now.Before(d.Ends()) {
		k.refuse(now, Event{What: Refused, Device: d.ID, Name: d.Name, Operation: known(operation), Why: "a token that ended"})
		return nil, ErrEnded
	}
	return d, nil
}

// Admit decides whether whoever brings a token may carry out an operation, by
// its ID, in a study ("" where the operation is about none). It is asked for
// each request, so that a changed role and a revoked device count at once.
// Errors: [ErrToken], [ErrEnded], [ErrRight].
func (k *Keeper) Admit(token, operation, study string) (Device, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	now := k.clock()
	d, err := k.known(now, token, operation)
	if err != nil {
		return Device{}, err
	}
	if why := d.may(operation, study); why != "" {
		k.refuse(now, Event{What: Refused, Device: d.ID, Name: d.Name, Study: study, Role: d.Roles[study], Operation: known(operation), Why: why})
		return Device{}, fmt.Errorf("%w: %s", ErrRight, why)
	}
	k.see(now, d.ID, study, operation)
	if now.Sub(d.Seen) >= seenEvery || now.Before(d.Seen) {
		d.Seen, k.unsaved = now, true
	}
	if k.unsaved {
		k.saveLater(now, seenEvery)
	}
	return d.clone(), nil
}

// bearer is the device with this token. Every device is compared, in constant
// time, though hashes tell a clock nothing.
func (k *Keeper) bearer(token string) (found *Device) {
	hash := []byte(hashOf(token))
	for i := range k.state.Devices {
		if subtle.ConstantTimeCompare(hash, []byte(k.state.Devices[i].TokenHash)) == 1 {
			found = &k.state.Devices[i]
		}
	}
	return found
}

// SetRole gives a device a role in a study; the role "" takes it away. It
// counts from the next request on.
func (k *Keeper) SetRole(device, study string, role Role, by string) error {
	if study == "" || role != "" && !role.known() {
		return fmt.Errorf("%w: study %q, role %q; expected a study and one of %s", ErrBad, study, role, listOfRoles())
	}
	return k.change(device, func(d *Device, now time.Time) Event {
		e := Event{What: RoleChanged, Study: study, Role: role, Was: d.Roles[study], By: by}
		if role == "" {
			delete(d.Roles, study)
		} else {
			d.Roles[study] = role
		}
		return e
	})
}

// Revoke shuts a device out for good: its token is worth nothing from the next
// request on, also when that could not be written to the disc, which is the
// error then.
func (k *Keeper) Revoke(device, by string) error {
	return k.change(device, func(d *Device, now time.Time) Event {
		if d.Revoked == nil {
			d.Revoked = &now
		}
		return Event{What: Revoked, By: by}
	})
}

// change keeps its effect in memory where the disc refuses it: a device that
// was to lose a right has lost it. To gain one needs the disc.
func (k *Keeper) change(device string, do func(*Device, time.Time) Event) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	at := slices.IndexFunc(k.state.Devices, func(d Device) bool { return d.ID == device })
	if at < 0 {
		return fmt.Errorf("%w: %q", ErrDevice, device)
	}
	now, before := k.clock(), k.copy()
	d := k.state.Devices[at].clone()
	e := do(&d, now)
	e.Device, e.Name = d.ID, d.Name
	k.state.Devices[at] = d
	k.note(now, e)
	err := k.save(now)
	switch {
	case err == nil:
		return nil
	case e.What == RoleChanged && !e.Was.includes(e.Role):
		k.state = before
		return err
	}
	return fmt.Errorf("it counts until the program ends, and could not be written down: %w", err)
}

// Devices are all that were ever paired, revoked ones too, in that order.
func (k *Keeper) Devices() []Device {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.copy().Devices
}

// Audit is the list of what happened, oldest first.
func (k *Keeper) Audit() []Event {
	k.mu.Lock()
	defer k.mu.Unlock()
	return slices.Clone(k.state.Audit)
}

// Sights is who saw or changed what, in the order in which each was first seen.
func (k *Keeper) Sights() []Sight {
	k.mu.Lock()
	defer k.mu.Unlock()
	return slices.Clone(k.state.Sights)
}

// Flush writes down what was not yet; call it when the program ends.
func (k *Keeper) Flush() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if !k.unsaved {
		return nil
	}
	return k.save(k.clock())
}

func (k *Keeper) save(now time.Time) error {
	if err := k.store.Save(k.copy()); err != nil {
		return fmt.Errorf("who may come in could not be written down: %w", err)
	}
	k.unsaved, k.saved = false, now
	return nil
}

// saveLater saves what may wait, at most once in a while. A fault of the disc
// is told by whatever cannot wait.
func (k *Keeper) saveLater(now time.Time, every time.Duration) {
	if since := now.Sub(k.saved); since >= every || since < 0 {
		k.saved = now
		_ = k.save(now)
	}
}

func (k *Keeper) copy() State {
	out := k.state
	out.Devices, out.Audit, out.Sights = make([]Device, len(k.state.Devices)), slices.Clone(k.state.Audit), slices.Clone(k.state.Sights)
	for i, d := range k.state.Devices {
		out.Devices[i] = d.clone()
	}
	return out
}

func (d Device) clone() Device {
	d.Roles, d.Writes = maps.Clone(d.Roles), slices.Clone(d.Writes)
	if d.Revoked != nil {
		at := *d.Revoked
		d.Revoked = &at
	}
	return d
}

func (k *Keeper) chance(n int) ([]byte, error) {
	b := make([]byte, n)
	if _, err := io.ReadFull(k.random, b); err != nil {
		return nil, fmt.Errorf("this machine gives no random numbers: %w", err)
	}
	return b, nil
}

// letters draws evenly: bytes beyond the last whole round are thrown away.
func (k *Keeper) letters(n int) (string, error) {
	const whole = 256 / len(codeLetters) * len(codeLetters)
	var out []byte
	for len(out) < n {
		b, err := k.chance(1)
		if err != nil {
			return "", err
		}
		if int(b[0]) < whole {
			out = append(out, codeLetters[int(b[0])%len(codeLetters)])
		}
	}
	return string(out), nil
}
