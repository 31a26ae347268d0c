package httpapi

import (
	"bytes"
	"cmp"
	"mime"
	"net/http"
	"strconv"

	"brinefield/internal/app"
)

// download is a route that gives or takes a file and no JSON. Access over the network is
// decided by its operation, like that of the routes of the API.
type download struct {
	operation, pattern string
	send               func(Studies, http.ResponseWriter, *http.Request)
}

var downloads = []download{
	{"download-season", "GET /download/{study}/season", downloadSeason},
	{"attachment", "GET /download/{study}/attachment/{ref}", downloadAttachment},
	{"footage-media", "GET /media/{study}/{clip}/{chapter}", sendMedia},
	{"footage-upload", "POST /upload/{study}", takeUpload},
	{"dossier-figure", "GET /dossier/{study}/figure/{name}", sendDossierFigure},
	{"dossier-file", "GET /dossier/{study}/package/{package}", sendDossierFile},
	{"dossier-upload", "POST /dossier/{study}/check", takeDossier},
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

// downloadAttachment sends the file of a photo or a voice note: a photo without
// what tells where and by whom it was taken. As it came only the laptop's own
// browser gets it, with ?original=1.
//
// What came from a tablet could be anything: it is sent under the type that the
// file itself shows, as a file to keep, and a browser that opens it all the same
// runs nothing of it.
func downloadAttachment(studies Studies, w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Security-Policy", "default-src 'none'; sandbox")
	w.Header().Set("X-Content-Type-Options", "nosniff")
	original := r.URL.Query().Get("original") == "1"
	if original && app.CallerOf(r.Context()).Device != "" {
		http.Error(w, "A photo as it came, with the place where it was taken, is shown on the laptop only.", http.StatusForbidden)
		return
	}
	study, err := studies.Study(r.Context(), r.PathValue("study"))
	var file app.AttachmentFile
	if err == nil {
		file, err = study.Attachment(r.Context(), r.PathValue("ref"))
	}
	if err == nil && !original {
		file, err = file.Cleaned()
	}
	if err != nil {
		http.Error(w, err.Error(), statusOf(err))
		return
	}
	w.Header().Set("Content-Type", cmp.Or(file.Type, "application/octet-stream"))
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": file.Name}))
	w.Header().Set("Content-Length", strconv.Itoa(len(file.Data)))
	_, _ = w.Write(file.Data)
}
