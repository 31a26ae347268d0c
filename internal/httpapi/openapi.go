package httpapi

import (
	"net/http"

	"github.com/danielgtaylor/huma/v2"
)

// Description is the OpenAPI 3.1 document of the API as YAML, made from the
// Go types; the TypeScript client is generated from it.
func Description(version string) ([]byte, error) {
	return Routes(http.NewServeMux(), nil, nil, version).YAML()
}

// Summaries say what each operation is, downloads too, in the words of the
// description.
func Summaries() map[string]string {
	out := map[string]string{"download-season": "The season folder as a file", "attachment": "A photo or a voice note"}
	for _, item := range Routes(http.NewServeMux(), nil, nil, "1").Paths {
		for _, op := range []*huma.Operation{item.Get, item.Post} {
			if op != nil {
				out[op.OperationID] = op.Summary
			}
		}
	}
	return out
}
