package httpapi

import "net/http"

// Description is the OpenAPI 3.1 document of the API as YAML, made from the
// Go types; the TypeScript client is generated from it.
func Description(version string) ([]byte, error) {
	return Routes(http.NewServeMux(), nil, nil, version).YAML()
}
