package httpapi

import (
	"bytes"
	"mime"
	"net/http"
)

// download is a route that gives a file and no JSON. Access over the network is
// decided by its operation, like that of the routes of the API.
type download struct {
	operation, pattern string
	send               func(Studies, http.ResponseWriter, *http.Request)
}

var downloads = []download{
	{"download-season", "GET /download/{study}/season", downloadSeason},
}

// Downloads are the routes beside the API, as patterns, by their operations.
func Downloads() map[string]string {
	out := map[string]string{}
	for _, d := range downloads {
		out[d.operation] = d.pattern
	}
	return out
}

// downloadSeason sends a study's plain season folder as one zip. It is made in
// memory first, so that an error is an answer and not half a file.
func downloadSeason(studies Studies, w http.ResponseWriter, r *http.Request) {
	study, err := studies.Study(r.Context(), r.PathValue("study"))
	if err != nil {
		http.Error(w, err.Error(), statusOf(err))
		return
	}
	var zip bytes.Buffer
	name, err := study.WriteSeason(r.Context(), &zip)
	if err != nil {
		http.Error(w, err.Error(), statusOf(err))
		return
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	_, _ = w.Write(zip.Bytes())
}
