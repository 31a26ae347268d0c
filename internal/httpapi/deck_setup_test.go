package httpapi_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"

	"brinefield/core/deck"
	"brinefield/internal/app"
)

// A second writer of how a study logs is answered by the header that it sent
// (RFC 9110, 13.1.1: 412 where If-Match does not hold).
func TestDeckSetup(t *testing.T) {
	const route = "/api/studies/bay/deck/setup"
	text, err := json.Marshal(app.DeckSetupRequest{Spec: deck.Default(), Author: "Aoife Byrne"})
	if err != nil {
		t.Fatal(err)
	}
	tagged := func(r *http.Request) { r.Header.Set("If-Match", `"abc"`) }
	var asked []any
	h, sessions := start(fakeStudies{asked: &asked}, builtWeb)
	c := with(signIn(t, h, sessions))
	if res := post(h, route, string(text), c, tagged); res.StatusCode != http.StatusOK {
		said, _ := io.ReadAll(res.Body)
		t.Fatalf("status %d: %s", res.StatusCode, said)
	}
	if in, ok := asked[0].(app.DeckSetupRequest); !ok || in.IfMatch != `"abc"` || in.Author != "Aoife Byrne" || len(in.Spec.Responses) != len(deck.Default().Responses) {
		t.Errorf("asked %+v", asked)
	}
	if res := post(h, route, string(text), c); res.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("without the tag: status %d", res.StatusCode)
	}
	for _, c := range []struct {
		err    error
		status int
		say    string
	}{
		{fmt.Errorf("Tom Kett changed it: %w", app.ErrChangedMeanwhile), http.StatusPreconditionFailed, "Tom Kett"},
		{app.ErrReadOnly, http.StatusForbidden, "read-only"},
		{&app.EditError{Faults: []app.EditFault{{Kind: "deck", Field: "responses/1/turned", Wrong: "bit without a turn", Expected: "expected yes"}}}, http.StatusUnprocessableEntity, `"location":"deck//responses/1/turned"`},
	} {
		h, sessions := start(fakeStudies{err: c.err}, builtWeb)
		res := post(h, route, string(text), with(signIn(t, h, sessions)), tagged)
		said, err := io.ReadAll(res.Body)
		if err != nil || res.StatusCode != c.status || !strings.Contains(string(said), c.say) {
			t.Errorf("%v: status %d, %s, %v", c.err, res.StatusCode, said, err)
		}
	}
}
