package gate

import (
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"brinefield/internal/app"
)

// Rate is how often something may be asked for: Burst at once, Every second on
// the long run.
type Rate struct {
	PerSecond float64
	Burst     int
}

// Limits bound what one tablet, one address and all of them can ask of the
// laptop. A tablet that logs in earnest comes nowhere near them.
type Limits struct {
	Asks      Rate // of one address, for anything
	Strangers Rate // of one address, without a good token, beside the app's files
	Codes     Rate // of one address, to pair
	Device    Rate // of one device
	AtOnce    int  // requests of one device that are being answered

	Connections int // in all
	PerAddress  int // of one address

	Stall   time.Duration // nothing came of a body for so long: it is cut
	Longest time.Duration // for one body in all

	Uploads  int64 // bytes of photos and voice of one device in a day
	KeepFree int64 // bytes of the disc that photos and voice leave free
}

// Usual are the limits that hold where no others are given. A batch of 32 MiB
// within 15 minutes is 37 kB/s: slower than that, a tablet sends smaller ones.
func Usual() Limits {
	return Limits{
		Asks:      Rate{200, 2000},
		Strangers: Rate{1, 30},
		Codes:     Rate{0.2, 10},
		Device:    Rate{50, 500},
		AtOnce:    12,

		Connections: 256,
		PerAddress:  64,

		Stall:   45 * time.Second,
		Longest: 15 * time.Minute,

		Uploads:  4 << 30,
		KeepFree: 1 << 30,
	}
}

const (
	// mostKept is for how many addresses or devices a rate is kept.
	mostKept = 4096
	// forgetAfter is when one that asks no more is forgotten.
	forgetAfter = 10 * time.Minute
)

// rates is a rate for each of many. Whoever comes under thousands of addresses
// pushes others out, and gains what the number of connections lets him.
type rates struct {
	rate  Rate
	clock func() time.Time

	mu   sync.Mutex
	each map[string]*paced
}

type paced struct {
	*rate.Limiter
	seen time.Time
}

func newRates(r Rate, clock func() time.Time) *rates {
	return &rates{rate: r, clock: clock, each: map[string]*paced{}}
}

// take is nil where the rate allows one more; else an [app.TooMuchError] with
// the sentence.
func (r *rates) take(who, sentence string) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	now := r.clock()
	p := r.each[who]
	if p == nil {
		r.makeRoom(now)
		p = &paced{Limiter: rate.NewLimiter(rate.Limit(r.rate.PerSecond), r.rate.Burst)}
		r.each[who] = p
	}
	p.seen = now
	reserved := p.ReserveN(now, 1)
	if wait := reserved.DelayFrom(now); wait > 0 || !reserved.OK() {
		reserved.CancelAt(now)
		return &app.TooMuchError{What: sentence, After: wait}
	}
	return nil
}

func (r *rates) makeRoom(now time.Time) {
	if len(r.each) < mostKept {
		return
	}
	oldest, at := "", now
	for who, p := range r.each {
		if now.Sub(p.seen) > forgetAfter {
			delete(r.each, who)
		} else if !p.seen.After(at) {
			oldest, at = who, p.seen
		}
	}
	if len(r.each) >= mostKept {
		delete(r.each, oldest)
	}
}

// netOf is what counts as one address: all of an IPv6 net, since one machine
// has as many addresses in it as it likes, but on the link itself, where all
// share one net.
func netOf(from string) string {
	a, err := netip.ParseAddr(from)
	if err != nil {
		return from
	}
	if a = a.Unmap(); a.Is6() && !a.IsLinkLocalUnicast() && !a.IsLoopback() {
		if p, err := a.Prefix(64); err == nil {
			return p.String()
		}
	}
	return a.String()
}

// busy bounds what one device asks: how often, and how much at once.
type busy struct {
	rates  *rates
	atOnce int

	mu  sync.Mutex
	now map[string]int
}

func newBusy(l Limits, clock func() time.Time) *busy {
	return &busy{rates: newRates(l.Device, clock), atOnce: l.AtOnce, now: map[string]int{}}
}

func (b *busy) begin(device string) (done func(), err error) {
	if err := b.rates.take(device, "this tablet asks too often"); err != nil {
		return nil, err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.now[device] >= b.atOnce {
		return nil, &app.TooMuchError{What: "this tablet asks for too much at once", After: time.Second}
	}
	b.now[device]++
	return sync.OnceFunc(func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		if b.now[device]--; b.now[device] == 0 {
			delete(b.now, device)
		}
	}), nil
}

// uploads counts what each device sent of photos and voice on the day (UTC).
// It begins again with the program: it keeps a tablet that runs wild from
// filling the disc, and KeepFree holds whatever happens.
type uploads struct {
	most int64

	mu   sync.Mutex
	day  string
	sent map[string]int64
}

func (u *uploads) take(device string, bytes int64, now time.Time) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	utc := now.UTC()
	if day := utc.Format(time.DateOnly); day != u.day {
		u.day, u.sent = day, map[string]int64{}
	}
	if u.sent[device]+bytes > u.most {
		midnight := time.Date(utc.Year(), utc.Month(), utc.Day()+1, 0, 0, 0, 0, time.UTC)
		return &app.TooMuchError{What: "this tablet sent as many photos and voice notes today as are let in in a day; they wait on it, and entries still come in", After: midnight.Sub(utc)}
	}
	u.sent[device] += bytes
	return nil
}
