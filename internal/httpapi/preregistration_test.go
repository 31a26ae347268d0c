package httpapi_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"

	"brinefield/internal/app"
)

var onePreregistration = app.PreregistrationView{
	Text: "# Bay\n", SHA256: "abc", Missing: []string{"seal"},
	Registered: []app.RegisteredView{{ID: "preregistration 1", Text: "# Bay\n", SHA256: "abc", Late: true}},
}

func (f fakeStudy) Preregistration(context.Context) (app.PreregistrationView, error) {
	return onePreregistration, f.err
}

func (f fakeStudy) Register(_ context.Context, in app.RegisterRequest) (app.PreregistrationView, error) {
	f.note(in)
	return onePreregistration, f.err
}

func TestPreregistration(t *testing.T) {
	const route = "/api/studies/bay/preregistration"
	var asked []any
	h, sessions := start(fakeStudies{asked: &asked}, builtWeb)
	c := signIn(t, h, sessions)
	var v app.PreregistrationView
	res := ask(h, "GET", route, with(c))
	if err := json.NewDecoder(res.Body).Decode(&v); err != nil || res.StatusCode != http.StatusOK || v.Text != "# Bay\n" || !v.Registered[0].Late {
		t.Errorf("status %d, %v: %+v", res.StatusCode, err, v)
	}
	if res := post(h, route, `{"author":"Aoife Byrne","sha256":"abc"}`, with(c)); res.StatusCode != http.StatusOK {
		t.Errorf("status %d", res.StatusCode)
	}
	if want := fmt.Sprint(app.RegisterRequest{Author: "Aoife Byrne", SHA256: "abc"}); len(asked) == 0 || !strings.Contains(fmt.Sprint(asked...), want) {
		t.Errorf("the program was asked %v, want %s", asked, want)
	}
	if res := post(h, route, `{"author":"Aoife Byrne","sha256":"abc"}`); res.StatusCode != http.StatusUnauthorized {
		t.Errorf("without a cookie: status %d", res.StatusCode)
	}
	if res := post(h, route, `{"author":"Aoife Byrne"}`, with(c)); res.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("without the hash of what was read: status %d", res.StatusCode)
	}
	for _, c := range []struct {
		err    error
		status int
		say    string
	}{
		{fmt.Errorf("the document: %w", app.ErrChangedMeanwhile), http.StatusConflict, "changed meanwhile"},
		{&app.EditError{Faults: []app.EditFault{{Kind: "preregistration", Field: "author", Wrong: "nobody is named", Expected: "expected who"}}}, http.StatusUnprocessableEntity, `"location":"preregistration//author"`},
	} {
		h, sessions := start(fakeStudies{err: c.err}, builtWeb)
		cookie := signIn(t, h, sessions)
		res := post(h, route, `{"author":"","sha256":"abc"}`, with(cookie))
		text, _ := io.ReadAll(res.Body)
		if res.StatusCode != c.status || !strings.Contains(string(text), c.say) {
			t.Errorf("status %d: %s", res.StatusCode, text)
		}
	}
}
