package httpapi

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"time"
)

// sendMedia sends a file of footage, or a part of it that is asked for: what the
// record of a clip names, and nothing else. It is in no cache: the file lies beside
// it on the same laptop, and a cache would hold people's pictures after they were
// erased.
func sendMedia(studies Studies, w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Security-Policy", "default-src 'none'; sandbox")
	w.Header().Set("X-Content-Type-Options", "nosniff")
	chapter, err := strconv.Atoi(r.PathValue("chapter"))
	if err != nil {
		http.Error(w, fmt.Sprintf("%.40q is no chapter of a clip: expected its number, counted from 0.", r.PathValue("chapter")), http.StatusNotFound)
		return
	}
	study, err := studies.Study(r.Context(), r.PathValue("study"))
	if err != nil {
		http.Error(w, err.Error(), statusOf(err))
		return
	}
	file, err := study.FootageMedia(r.Context(), r.PathValue("clip"), chapter, r.URL.Query().Get("proxy") == "1")
	if err != nil {
		http.Error(w, err.Error(), statusOf(err))
		return
	}
	defer file.Close()
	w.Header().Set("Content-Type", file.Type)
	w.Header().Set("ETag", strconv.Quote(file.ETag))
	// The hash says better than a time whether a file is another.
	http.ServeContent(w, r, "", time.Time{}, file)
}

// takeUpload keeps the body as a file for an import. How long that may take, nobody
// says; how much it may be, the free space of the disc does.
func takeUpload(studies Studies, w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	study, err := studies.Study(r.Context(), r.PathValue("study"))
	var token string
	if err == nil {
		token, err = study.FootageUpload(r.Context(), r.URL.Query().Get("name"), r.ContentLength, r.Body)
	}
	if err != nil {
		// A browser that is still sending when it is refused shows a broken connection
		// and no reason: what is left is read and thrown away, until it goes away.
		_, _ = io.Copy(io.Discard, r.Body)
		refuseFor(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(map[string]string{"token": token}) // whoever went away reads nothing
}
