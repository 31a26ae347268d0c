package httpapi

import "github.com/danielgtaylor/huma/v2"

func preregistrationRoutes(api huma.API, studies Studies) {
	of(api, studies, "preregistration", "preregistration", "What is planned, as one document, and what was registered of it", Study.Preregistration)
	to(api, studies, "register", "preregistration", "Write the document into the journal under its date", Study.Register)
}
