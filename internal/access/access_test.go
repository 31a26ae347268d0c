package access

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// memory is a [Store] that can be made to fail.
type memory struct {
	state State
	err   error
	saves int
}

func (m *memory) Load() (State, error) { return m.state, nil }

func (m *memory) Save(s State) error {
	if m.err != nil {
		return m.err
	}
	m.saves++
	m.state = s
	return nil
}

type bench struct {
	*Keeper
	store *memory
	now   time.Time
}

func keeper(t interface{ Fatal(...any) }) *bench {
	b := &bench{store: &memory{}, now: time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)}
	k, err := New(b.store, func() time.Time { return b.now }, rand.NewChaCha8([32]byte{8}))
	if err != nil {
		t.Fatal(err)
	}
	b.Keeper = k
	return b
}

func (b *bench) paired(t *testing.T, study string, role Role) (Device, string) {
	t.Helper()
	text, _, err := b.NewCode(study, role, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	d, token, err := b.Pair(text, "tablet")
	if err != nil {
		t.Fatal(err)
	}
	return d, token
}

func TestACodeLetsOneDeviceIn(t *testing.T) {
	b := keeper(t)
	text, ends, err := b.NewCode("S", Scorer, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	if len(text) != 9 || text[4] != '-' || strings.ContainsAny(text, "0O1ILB8S5Z2GQU6") || !ends.Equal(b.now.Add(2*time.Minute)) {
		t.Errorf("the code is %q until %v", text, ends)
	}
	d, token, err := b.Pair(" "+strings.ToLower(strings.ReplaceAll(text, "-", " ")), "tablet of the stern")
	if err != nil {
		t.Fatal(err)
	}
	if got, err := b.Admit(token, "edit", "S"); err != nil || got.ID != d.ID || got.Name != "tablet of the stern" {
		t.Errorf("%+v, %v", got, err)
	}
	if len(token) != 43 { // 32 bytes in base64url without padding: RFC 4648, 5
		t.Errorf("a token of %d letters", len(token))
	}
	if _, _, err := b.Pair(text, "a second one"); !errors.Is(err, ErrCode) {
		t.Errorf("a code was taken twice: %v", err)
	}
	if kept := fmt.Sprintf("%+v", b.store.state); strings.Contains(kept, token) || strings.Contains(kept, plain(text)) || strings.Contains(kept, text) {
		t.Error("the token or the code is kept")
	}
}

func TestCodesEnd(t *testing.T) {
	for name, c := range map[string]struct {
		do func(*bench, string)
		ok bool
	}{
		"at once":                      {func(*bench, string) {}, true},
		"in the last instant":          {func(b *bench, _ string) { b.now = b.now.Add(CodeLife - 1) }, true},
		"after two minutes":            {func(b *bench, _ string) { b.now = b.now.Add(CodeLife) }, false},
		"after the clock was set back": {func(b *bench, _ string) { b.now = b.now.Add(-time.Second) }, false},
		"after four wrong tries":       {func(b *bench, _ string) { wrong(b, 4) }, true},
		"after five wrong tries":       {func(b *bench, _ string) { wrong(b, 5) }, false},
		"after a newer code":           {func(b *bench, _ string) { _, _, _ = b.NewCode("S", Guest, "Ada") }, false},
		"after a name that cannot be":  {func(b *bench, code string) { _, _, _ = b.Pair(code, "\n") }, true},
		"after it was looked at by time": {func(b *bench, code string) {
			b.now = b.now.Add(CodeLife)
			_, _, _ = b.Pair(code, "x")
			b.now = b.now.Add(-CodeLife)
		}, false},
	} {
		b := keeper(t)
		text, _, err := b.NewCode("S", Lead, "Ada")
		if err != nil {
			t.Fatal(err)
		}
		c.do(b, text)
		if _, _, err := b.Pair(text, "tablet"); (err == nil) != c.ok || err != nil && !errors.Is(err, ErrCode) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func wrong(b *bench, n int) {
	for range n {
		_, _, _ = b.Pair("AAAA-AAAA", "tablet")
	}
}

func TestOnlyOneOfManyGetsIn(t *testing.T) {
	b := keeper(t)
	text, _, err := b.NewCode("S", Lead, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	in := make(chan string, 20)
	for range 20 {
		all.Go(func() {
			if d, _, err := b.Pair(text, "tablet"); err == nil {
				in <- d.ID
			}
		})
	}
	all.Wait()
	if len(in) != 1 {
		t.Errorf("%d devices came in by one code", len(in))
	}
}

func TestTokens(t *testing.T) {
	b := keeper(t)
	d, token := b.paired(t, "S", Scorer)
	_, other := b.paired(t, "S", Lead)
	if other == token {
		t.Fatal("two devices have one token")
	}
	for name, c := range map[string]struct {
		token, operation, study string
		want                    error
	}{
		"its own study":       {token, "edit", "S", nil},
		"another study":       {token, "edit", "T", ErrRight},
		"no study":            {token, "edit", "", ErrRight},
		"cards":               {token, "card", "S", ErrRight},
		"the laptop's own":    {other, "home", "", ErrRight},
		"a key, for a lead":   {other, "open-active-pairs", "S", ErrRight},
		"a calculator":        {token, "stimulus-range", "", nil},
		"no such operation":   {other, "no-such", "S", ErrRight},
		"an empty operation":  {other, "", "S", ErrRight},
		"no token":            {"", "season", "S", ErrToken},
		"a made-up token":     {strings.Repeat("A", 43), "season", "S", ErrToken},
		"the hash as a token": {b.store.state.Devices[0].TokenHash, "season", "S", ErrToken},
		"the ID as a token":   {d.ID, "season", "S", ErrToken},
		"the token in small":  {strings.ToLower(token), "season", "S", ErrToken},
		"a token and more":    {token + "A", "season", "S", ErrToken},
		"half a token":        {token[:20], "season", "S", ErrToken},
		"a million letters":   {strings.Repeat("x", 1e6), "season", "S", ErrToken},
	} {
		if _, err := b.Admit(c.token, c.operation, c.study); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestRolesAndRevocationCountAtOnce(t *testing.T) {
	b := keeper(t)
	d, token := b.paired(t, "S", Guest)
	may := func(operation string) bool { _, err := b.Admit(token, operation, "S"); return err == nil }
	if may("edit") || !may("season") {
		t.Error("a guest may not write, and may look")
	}
	for role, want := range map[Role]bool{Scorer: true, Guest: false, Operator: true, Lead: true} {
		if err := b.SetRole(d.ID, "S", role, "Ada"); err != nil {
			t.Fatal(err)
		}
		if may("edit") != want || may("card") != (role == Operator || role == Lead) {
			t.Errorf("as %s: edit %v, card %v", role, may("edit"), may("card"))
		}
	}
	if err := b.SetRole(d.ID, "S", "", "Ada"); err != nil {
		t.Fatal(err)
	}
	if may("season") || may("stimulus-prey") {
		t.Error("without a role something is allowed")
	}
	if _, err := b.Admit(token, "stimulus-prey", ""); !errors.Is(err, ErrRight) {
		t.Errorf("without any role a calculator is allowed: %v", err)
	}
	if err := b.SetRole(d.ID, "S", Lead, "Ada"); err != nil {
		t.Fatal(err)
	}
	if err := b.Revoke(d.ID, "Ada"); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Admit(token, "season", "S"); !errors.Is(err, ErrToken) {
		t.Errorf("a revoked device: %v", err)
	}
	again, err := New(b.store, func() time.Time { return b.now }, rand.NewChaCha8([32]byte{9}))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := again.Admit(token, "season", "S"); !errors.Is(err, ErrToken) {
		t.Errorf("a revoked device after a restart: %v", err)
	}
	for _, err := range []error{b.Revoke("nobody", "Ada"), b.SetRole("nobody", "S", Lead, "Ada")} {
		if !errors.Is(err, ErrDevice) {
			t.Error(err)
		}
	}
	if err := b.SetRole(d.ID, "S", "captain", "Ada"); !errors.Is(err, ErrBad) || !strings.Contains(err.Error(), "lead, operator, scorer, guest") {
		t.Error(err)
	}
}

func TestADiscThatFails(t *testing.T) {
	b := keeper(t)
	d, token := b.paired(t, "S", Operator)
	guest, guestToken := b.paired(t, "S", Guest)
	text, _, err := b.NewCode("S", Lead, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	b.store.err = errors.New("the disc is full")
	if _, token, err := b.Pair(text, "late"); err == nil || token != "" || len(b.Devices()) != 2 {
		t.Errorf("a device came in that was not written down: %v, %d devices", err, len(b.Devices()))
	}
	if err := b.SetRole(guest.ID, "S", Lead, "Ada"); err == nil {
		t.Error("a role was given that was not written down")
	}
	if _, err := b.Admit(guestToken, "edit", "S"); !errors.Is(err, ErrRight) {
		t.Errorf("the role was given all the same: %v", err)
	}
	if err := b.SetRole(d.ID, "S", Guest, "Ada"); err == nil {
		t.Error("the fault of the disc is not told")
	}
	if _, err := b.Admit(token, "card", "S"); !errors.Is(err, ErrRight) {
		t.Errorf("a right that was taken away stays: %v", err)
	}
	if err := b.Revoke(d.ID, "Ada"); err == nil {
		t.Error("the fault of the disc is not told")
	}
	if _, err := b.Admit(token, "season", "S"); !errors.Is(err, ErrToken) {
		t.Errorf("a revoked device stays: %v", err)
	}
	if _, _, err := b.NewCode("S", Lead, "Ada"); err == nil {
		t.Error("a code was made that was not written down")
	}
	b.store.err = nil
	if err := b.Flush(); err != nil || b.store.state.Devices[0].Revoked == nil {
		t.Errorf("what could not be written is not written later: %v", err)
	}
	if _, err := New(&memory{state: State{Devices: []Device{{ID: "x"}}}}, time.Now, nil); !errors.Is(err, ErrBad) {
		t.Errorf("a damaged state lets somebody in: %v", err)
	}
	noChance, err := New(&memory{}, time.Now, bytes.NewReader(nil))
	if err != nil {
		t.Fatal(err)
	}
	if text, _, err := noChance.NewCode("S", Lead, "Ada"); err == nil {
		t.Errorf("a code %q was made without chance", text)
	}
}

func TestTheListOfWhatHappened(t *testing.T) {
	b := keeper(t)
	d, token := b.paired(t, "S", Scorer)
	_, _ = b.Admit(token, "card", "S")
	for range 3 {
		b.now = b.now.Add(time.Second)
		_, _ = b.Admit("made up", "made up "+b.now.String(), "")
	}
	_ = b.SetRole(d.ID, "S", Lead, "Ada")
	_ = b.Revoke(d.ID, "Grace")
	_, _ = b.Admit(token, "season", "S")
	var got []string
	for _, e := range b.Audit() {
		got = append(got, fmt.Sprintf("%s %s/%s %s by %q %s x%d", e.What, e.Was, e.Role, e.Operation, e.By, e.Why, max(1, e.Times)))
	}
	want := []string{
		`code-made /scorer  by "Ada"  x1`, `paired /scorer  by "Ada"  x1`,
		`refused /scorer card by "" it needs the right to cards, which scorer has not x1`,
		`refused / unknown by "" an unknown token x3`,
		`role-changed scorer/lead  by "Ada"  x1`, `revoked /  by "Grace"  x1`, `refused / season by "" a revoked device x1`,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestStrangersDoNotFillTheDisc(t *testing.T) {
	b := keeper(t)
	_, token := b.paired(t, "S", Guest)
	before, granted := b.store.saves, len(b.Audit())
	for i := range 5000 {
		_, _ = b.Admit(token, "edit", fmt.Sprint("study ", i))
	}
	if got := b.store.saves - before; got > 2 {
		t.Errorf("%d writes within an instant", got)
	}
	if got := len(b.Audit()); got > mostRefusals+granted {
		t.Errorf("%d lines", got)
	}
	if b.Audit()[0].What != CodeMade || b.Audit()[1].What != Paired {
		t.Error("refusals pushed out who was let in")
	}
	if err := b.Flush(); err != nil || b.store.state.Dropped != 5000-mostRefusals {
		t.Errorf("%d dropped, %v", b.store.state.Dropped, err)
	}
	b.now = b.now.Add(time.Hour)
	_, _ = b.Admit(token, "season", "S")
	if !b.store.state.Devices[0].Seen.Equal(b.now) {
		t.Error("last seen was not written down")
	}
	_, _ = b.Admit(token, "edit", strings.Repeat("x", 1e6))
	if last := b.Audit()[len(b.Audit())-1]; len(last.Study) > 200 {
		t.Errorf("a stranger's study of %d letters is kept", len(last.Study))
	}
}

func TestNamesOfDevices(t *testing.T) {
	for name, ok := range map[string]bool{
		"tablet 1": true, " Möwe ": true, "": false, "   ": false, "a\nb": false, "a\x00b": false, "\xff": false,
		strings.Repeat("é", 60): true, strings.Repeat("é", 61): false, "right\u202eleft": false,
	} {
		if _, err := cleanName(name); (err == nil) != ok {
			t.Errorf("%q: %v", name, err)
		}
	}
}

// TestTheTable says in full what each role may do, apart from the code that
// works it out.
func TestTheTable(t *testing.T) {
	allowed := map[Right]string{
		Look: "lead operator scorer guest", Inspect: "lead operator scorer", Record: "lead operator scorer",
		Cards: "lead operator", Decide: "lead", Reckon: "lead operator scorer guest", AtHome: "", Anyone: "lead operator scorer guest",
	}
	for _, op := range Operations() {
		need, _ := NeedOf(op)
		list, known := allowed[need]
		if !known {
			t.Errorf("%s needs %q, which is no right", op, need)
		}
		for _, role := range Roles() {
			if got, want := May(role, op), strings.Contains(list, string(role)); got != want {
				t.Errorf("%s may %s: %v", role, op, got)
			}
		}
		if May("", op) || May("captain", op) {
			t.Errorf("somebody without a role may %s", op)
		}
	}
	for _, role := range Roles() {
		if May(role, "") || May(role, "no-such") {
			t.Errorf("%s may do what there is no rule for", role)
		}
	}
}

// TestAnyHistory compares the keeper with the plainest model of it under
// whatever order of calls.
func TestAnyHistory(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := keeper(t)
		type device struct {
			token   string
			roles   map[string]Role
			revoked bool
		}
		devices := map[string]*device{}
		var ids []string
		var code string
		var codeRole Role
		var codeStudy string
		var codeEnds time.Time
		tries := 0
		study := rapid.SampledFrom([]string{"S", "T"})
		role := rapid.SampledFrom(Roles())
		pick := func() string {
			if len(ids) == 0 {
				return ""
			}
			return rapid.SampledFrom(ids).Draw(t, "device")
		}
		t.Repeat(map[string]func(*rapid.T){
			"code": func(t *rapid.T) {
				codeStudy, codeRole = study.Draw(t, "study"), role.Draw(t, "role")
				code, codeEnds, _ = b.NewCode(codeStudy, codeRole, "Ada")
				tries = 0
			},
			"wait": func(t *rapid.T) {
				b.now = b.now.Add(time.Duration(rapid.IntRange(0, 90).Draw(t, "seconds")) * time.Second)
			},
			"wrong": func(t *rapid.T) {
				if _, _, err := b.Pair("AAAAAAAB", "x"); !errors.Is(err, ErrCode) { // B is no letter of a code
					t.Fatal(err)
				}
				if tries++; tries >= 5 {
					code = ""
				}
			},
			"pair": func(t *rapid.T) {
				good := code != "" && b.now.Before(codeEnds)
				d, token, err := b.Pair(code, "x")
				if (err == nil) != good {
					t.Fatalf("paired: %v, expected %v", err, good)
				}
				code = ""
				if good {
					devices[d.ID] = &device{token: token, roles: map[string]Role{codeStudy: codeRole}}
					ids = append(ids, d.ID)
				}
			},
			"role": func(t *rapid.T) {
				if id := pick(); id != "" {
					s, r := study.Draw(t, "study"), role.Draw(t, "role")
					if err := b.SetRole(id, s, r, "Ada"); err != nil {
						t.Fatal(err)
					}
					devices[id].roles[s] = r
				}
			},
			"revoke": func(t *rapid.T) {
				if id := pick(); id != "" {
					if err := b.Revoke(id, "Ada"); err != nil {
						t.Fatal(err)
					}
					devices[id].revoked = true
				}
			},
			"restart": func(t *rapid.T) {
				if err := b.Flush(); err != nil {
					t.Fatal(err)
				}
				k, err := New(b.store, func() time.Time { return b.now }, rand.NewChaCha8([32]byte{byte(b.store.saves), byte(b.store.saves >> 8), 1}))
				if err != nil {
					t.Fatal(err)
				}
				b.Keeper, code = k, ""
			},
			"": func(t *rapid.T) {
				for id, d := range devices {
					for _, s := range []string{"S", "T"} {
						for _, op := range []string{"season", "edit", "card", "lock-scoring", "home"} {
							_, err := b.Admit(d.token, op, s)
							if want := !d.revoked && May(d.roles[s], op); (err == nil) != want {
								t.Fatalf("%s %+v: %s in %s: %v", id, d, op, s, err)
							}
						}
					}
				}
			},
		})
	})
}

func TestFileStore(t *testing.T) {
	path := filepath.Join(t.TempDir(), "new", "devices.json")
	f := File{path}
	if s, err := f.Load(); err != nil || len(s.Devices) != 0 {
		t.Fatalf("a file that is not there: %+v, %v", s, err)
	}
	k, err := New(f, time.Now, rand.NewChaCha8([32]byte{1}))
	if err != nil {
		t.Fatal(err)
	}
	text, _, err := k.NewCode("S", Lead, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	_, token, err := k.Pair(text, "tablet")
	if err != nil {
		t.Fatal(err)
	}
	again, err := New(f, time.Now, rand.NewChaCha8([32]byte{2}))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := again.Admit(token, "edit", "S"); err != nil {
		t.Errorf("after a restart: %v", err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(data, []byte(token)) || bytes.Contains(data, []byte(plain(text))) {
		t.Error("the file holds a token or a code")
	}
	if beside, _ := os.ReadDir(filepath.Dir(path)); len(beside) != 1 {
		t.Errorf("something is left beside the file: %v", beside)
	}
	if runtime.GOOS != "windows" {
		if info, _ := os.Stat(path); info.Mode().Perm() != 0o600 {
			t.Errorf("the file has mode %04o", info.Mode().Perm())
		}
		if err := os.Chmod(path, 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := f.Load(); err == nil || !strings.Contains(err.Error(), "chmod 600") {
			t.Errorf("a file that others can read: %v", err)
		}
		if err := os.Chmod(path, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for name, text := range map[string]string{
		"empty": "", "half": string(data[:len(data)/2]), "more": string(data) + "{}", "no JSON": "hello", "newer": `{"version":2}`, "no version": `{}`,
		"a role that is none": strings.Replace(string(data), `"S": "lead"`, `"S": "captain"`, 1),
		"a token twice":       strings.Replace(string(data), `"devices": [`, `"devices": [{"id":"z","roles":{},"token_sha256":"`+k.Devices()[0].TokenHash+`"},`, 1),
		"no hash":             strings.Replace(string(data), k.Devices()[0].TokenHash, "", 1),
	} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := New(f, time.Now, nil); err == nil {
			t.Errorf("%s: somebody may be let in by it", name)
		}
	}
}

func FuzzCodes(f *testing.F) {
	f.Add("ACDE-FHJK", "tablet")
	f.Fuzz(func(t *testing.T, typed, name string) {
		b := keeper(t)
		text, _, err := b.NewCode("S", Lead, "Ada")
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := b.Pair(typed, name); err == nil && plain(typed) != plain(text) {
			t.Errorf("%q was let in for %q", typed, text)
		}
	})
}
