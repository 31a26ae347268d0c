package httpapi

import (
	"context"
	"errors"
	"io/fs"
	"net"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

// Gate decides who gets in over the network. Its errors are those of app.
type Gate interface {
	// Serves reports whether a Host header is an address of this laptop that its
	// certificate speaks for, with the port.
	Serves(host string) bool
	// Glance bounds how often one address asks, whatever for.
	Glance(from string) error
	// Admit decides on one request of one operation. done must be called when it
	// was answered.
	Admit(ctx context.Context, v app.Visit) (caller app.Caller, done func(), err error)
	// TakeIn decides whether there is room for bytes of photos and voice.
	TakeIn(ctx context.Context, caller app.Caller, bytes int64) error
}

// largestAsk is the most that a tablet may send where it brings no batch.
const largestAsk = 1 << 20

// ForTablets is the handler of the network: the app's own files for everybody,
// and of all else only what the gate admits. It answers over TLS alone.
func ForTablets(c Config, gate Gate) http.Handler {
	answers, mux := http.NewServeMux(), http.NewServeMux()
	routes(answers, c.Studies, c.Tablets, c.Version, gate)
	mux.Handle("/api/", notStored(answers))
	for _, d := range downloads {
		mux.HandleFunc(d.pattern, func(w http.ResponseWriter, r *http.Request) { guardedDownload(gate, c.Studies, d, w, r) })
	}
	mux.Handle("/", deckFiles(c.Web))
	return tabletGuard(gate, mux)
}

// tabletGuard is [guard] for the network. It sends no Strict-Transport-Security:
// a browser would keep that for the name after the laptop has gone, and where a
// certificate is wrong nobody could look at the page that mends it.
func tabletGuard(gate Gate, next http.Handler) http.Handler {
	sameOrigin := http.NewCrossOriginProtection()
	return sameOrigin.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		secureHeaders(w.Header())
		if r.TLS == nil {
			refuseWith(w, r, http.StatusForbidden, "This is answered over HTTPS only.")
			return
		}
		if !gate.Serves(r.Host) {
			refuseWith(w, r, http.StatusMisdirectedRequest, "This laptop answers to its own name and addresses only.")
			return
		}
		if err := gate.Glance(addressOf(r.RemoteAddr)); err != nil {
			refuseFor(w, r, err)
			return
		}
		// A link from the page that installs the authority comes from another
		// site and brings no cookie: it may lead to the app's files, and to
		// nothing else.
		if r.Header.Get("Sec-Fetch-Site") == "cross-site" && !isFile(r) {
			refuseWith(w, r, http.StatusForbidden, "Requests from other sites are refused.")
			return
		}
		if !fits(w, r) {
			return
		}
		next.ServeHTTP(w, r)
	}))
}

// isFile reports whether a request is for the app's own files.
func isFile(r *http.Request) bool {
	return !slices.ContainsFunc([]string{"/api/", "/download/", "/media/", "/upload/"}, func(root string) bool { return strings.HasPrefix(r.URL.Path, root) })
}

// fits refuses a body before it is read. A length must be stated, as every
// browser does: nobody is let send without an end.
func fits(w http.ResponseWriter, r *http.Request) bool {
	most := int64(largestAsk)
	if strings.HasSuffix(r.URL.Path, "/deck/sync") {
		most = largestBatch
	}
	switch {
	case r.ContentLength < 0:
		refuseWith(w, r, http.StatusLengthRequired, "The length of what is sent must be stated (Content-Length).")
	case r.ContentLength >= most:
		refuseWith(w, r, http.StatusRequestEntityTooLarge, "This is too much at once: expected less than "+strconv.FormatInt(most>>20, 10)+" MiB; send it in parts.")
	default:
		return true
	}
	return false
}

// refuseFor answers with an error of the gate.
func refuseFor(w http.ResponseWriter, r *http.Request, err error) {
	status := statusOf(err)
	var much *app.TooMuchError
	if errors.As(err, &much) {
		status = http.StatusTooManyRequests
		w.Header().Set("Retry-After", strconv.Itoa(much.Seconds()))
	}
	refuseWith(w, r, status, err.Error())
}

// admitted asks the gate in front of every route of the API, also of those
// that somebody adds later.
func admitted(api huma.API, gate Gate) func(huma.Context, func(huma.Context)) {
	return func(ctx huma.Context, next func(huma.Context)) {
		v := app.Visit{Operation: ctx.Operation().OperationID, Study: ctx.Param("study"), From: addressOf(ctx.RemoteAddr())}
		if c, err := huma.ReadCookie(ctx, deviceCookie); err == nil {
			v.Token = c.Value
		}
		caller, done, err := gate.Admit(ctx.Context(), v)
		if err != nil {
			status := statusOf(err)
			var much *app.TooMuchError
			if errors.As(err, &much) {
				status = http.StatusTooManyRequests
				ctx.SetHeader("Retry-After", strconv.Itoa(much.Seconds()))
			}
			_ = huma.WriteErr(api, ctx, status, err.Error()) // whoever went away reads nothing
			return
		}
		defer done()
		next(huma.WithContext(ctx, app.WithCaller(ctx.Context(), caller)))
	}
}

// guardedDownload asks the gate in front of a route beside the API.
func guardedDownload(gate Gate, studies Studies, d download, w http.ResponseWriter, r *http.Request) {
	v := app.Visit{Operation: d.operation, Study: r.PathValue("study"), From: addressOf(r.RemoteAddr)}
	if c, err := r.Cookie(deviceCookie); err == nil {
		v.Token = c.Value
	}
	caller, done, err := gate.Admit(r.Context(), v)
	if err != nil {
		refuseFor(w, r, err)
		return
	}
	defer done()
	w.Header().Set("Cache-Control", "no-store")
	d.send(studies, w, r.WithContext(app.WithCaller(r.Context(), caller)))
}

// deckFiles serves the built app: its files, and its page under /deck. The
// laptop's own pages have no address here.
func deckFiles(web fs.FS) http.Handler {
	files := frontEnd(web)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			http.Error(w, "Nothing is taken here.", http.StatusMethodNotAllowed)
			return
		case r.URL.Path == "/":
			http.Redirect(w, r, "/deck", http.StatusSeeOther)
			return
		case strings.HasPrefix(r.URL.Path, "/deck/"): // a study may be called "Bay 1.2", which is no file
			r = r.Clone(r.Context())
			r.URL.Path = "/deck"
		case r.URL.Path != "/deck" && path.Ext(r.URL.Path) == "":
			http.Error(w, "Nothing is here for a tablet: its page is /deck.", http.StatusNotFound)
			return
		}
		files.ServeHTTP(w, r)
	})
}

// addressOf is the address of a remote end without its port.
func addressOf(remote string) string {
	host, _, err := net.SplitHostPort(remote)
	if err != nil {
		return ""
	}
	return host
}
