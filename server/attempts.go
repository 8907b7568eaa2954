package server

import (
	"context"
	"errors"
	"net/netip"
	"strings"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

const (
	attemptWindow  = 10 * time.Minute
	attemptMax     = 10     // for one name from one address
	attemptAddress = 100    // for one address, whatever the name: a site office shares one
	attemptKeys    = 10_000 // bound on memory; a flood beyond it only forgets the window
	longestLogin   = 64     // no account has a longer one
)

// attempts slows down guessing of passwords within attemptWindow. An attempt is
// counted before the password is looked at, so that many guesses sent at once
// count as many, and given back when it was none.
//
// The count is of a name together with an address: whoever guesses elsewhere
// does not lock the person himself out. What that leaves is a guesser with many
// addresses, who is slowed down only by the cost of each hash.
type attempts struct {
	clock register.Clock
	mu    sync.Mutex
	since time.Time
	count map[string]int
}

func newAttempts(clock register.Clock) *attempts {
	return &attempts{clock: clock, count: map[string]int{}}
}

// attempt is one that has been counted.
type attempt struct {
	from          *attempts
	pair, address string
}

// begin counts one attempt on a thing from an address, or refuses it.
func (a *attempts) begin(thing, address string) (attempt, error) {
	address = network(address)
	one := attempt{from: a, pair: thing + " from " + address, address: "address " + address}
	a.mu.Lock()
	defer a.mu.Unlock()
	a.turn()
	if a.count[one.pair] >= attemptMax || a.count[one.address] >= attemptAddress {
		return one, defects.Refuse(defects.TooMany, "too_many_attempts", "too many failed attempts; wait ten minutes")
	}
	a.count[one.pair]++
	a.count[one.address]++
	return one, nil
}

// end says how the attempt went. Success forgets the failures of its pair; a
// refusal that says nothing about the secret gives the attempt back. An asker
// who went away does not get it back: he may have his answer.
func (t attempt) end(ctx context.Context, err error) {
	guessed := errors.Is(err, defects.Unauthenticated) || errors.Is(err, defects.Forbidden) || ctx.Err() != nil
	if err != nil && guessed {
		return
	}
	t.from.mu.Lock()
	defer t.from.mu.Unlock()
	t.from.less(t.address)
	t.from.less(t.pair)
	if err == nil {
		delete(t.from.count, t.pair)
	}
}

func (a *attempts) less(key string) {
	if a.count[key]--; a.count[key] <= 0 { // the window may have turned since
		delete(a.count, key)
	}
}

// turn starts a new window when the present one is over or full.
func (a *attempts) turn() {
	now := a.clock()
	if now.Sub(a.since) > attemptWindow || len(a.count) > attemptKeys {
		a.since, a.count = now, map[string]int{}
	}
}

// network is what counts as one address: of IPv6 the first 64 bits, since one
// customer has at least that many.
func network(address string) string {
	ip, err := netip.ParseAddr(address)
	if err != nil {
		return "unknown"
	}
	if ip = ip.Unmap(); ip.Is6() {
		p, err := ip.WithZone("").Prefix(64)
		if err != nil {
			return "unknown"
		}
		return p.String()
	}
	return ip.String()
}

// beginLogin counts an attempt on a login, in whatever case it was typed.
func (s *Server) beginLogin(c *gin.Context, login string) (attempt, error) {
	login = strings.ToLower(strings.TrimSpace(login))
	if len(login) > longestLogin {
		login = login[:longestLogin]
	}
	return s.signIns.begin("login "+login, c.ClientIP())
}
