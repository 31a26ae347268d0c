package httpapi

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"strings"
	"time"

	"brinefield/internal/app"
)

// mostDossier is the largest package that is taken in to be looked at.
const mostDossier = 1 << 30

// sendDossierFigure sends a figure as it would be printed now:
// /dossier/{study}/figure/{name}.svg?wide=1.
func sendDossierFigure(studies Studies, w http.ResponseWriter, r *http.Request) {
	name, format, found := cutLast(r.PathValue("name"), ".")
	if !found || (format != "svg" && format != "pdf" && format != "png") {
		http.Error(w, fmt.Sprintf("%.80q is no figure: expected its name with .svg, .pdf or .png.", r.PathValue("name")), http.StatusNotFound)
		return
	}
	study, err := studies.Study(r.Context(), r.PathValue("study"))
	var file app.DossierFile
	if err == nil {
		file, err = study.DossierFigure(r.Context(), name, app.FigurePrint{Format: format, Wide: r.URL.Query().Get("wide") == "1"})
	}
	sendFile(w, r, file, err, r.URL.Query().Get("save") == "1")
}

// sendDossierFile sends a package that was made, or with ?file= one file of it.
func sendDossierFile(studies Studies, w http.ResponseWriter, r *http.Request) {
	study, err := studies.Study(r.Context(), r.PathValue("study"))
	var file app.DossierFile
	if err == nil {
		file, err = study.DossierFile(r.Context(), r.PathValue("package"), r.URL.Query().Get("file"))
	}
	sendFile(w, r, file, err, r.URL.Query().Get("show") != "1")
}

// sendFile sends what was found. It runs nothing: a package could come from
// anywhere.
func sendFile(w http.ResponseWriter, r *http.Request, file app.DossierFile, err error, save bool) {
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("X-Content-Type-Options", "nosniff")
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; sandbox")
	if err != nil {
		http.Error(w, err.Error(), statusOf(err))
		return
	}
	w.Header().Set("Content-Type", file.Media)
	if save {
		w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": file.Name}))
	}
	if file.File == nil {
		_, _ = w.Write(file.Bytes)
		return
	}
	defer file.File.Close()
	http.ServeContent(w, r, "", time.Time{}, io.NewSectionReader(file.File, 0, file.File.Size()))
}

// takeDossier keeps the body, a package that somebody has, to be checked or
// compared, and answers with its token.
func takeDossier(studies Studies, w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	study, err := studies.Study(r.Context(), r.PathValue("study"))
	var token string
	if err == nil {
		token, err = study.DossierUpload(r.Context(), http.MaxBytesReader(w, r.Body, mostDossier))
	}
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		err = fmt.Errorf("the package is larger than %d MB, and is not taken in: brinefield verify reads it from the disc", mostDossier>>20)
	}
	if err != nil {
		_, _ = io.Copy(io.Discard, r.Body) // a browser that is still sending shows no reason otherwise
		refuseFor(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(map[string]string{"token": token}) // whoever went away reads nothing
}

func cutLast(s, sep string) (before, after string, found bool) {
	i := strings.LastIndex(s, sep)
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+len(sep):], true
}
