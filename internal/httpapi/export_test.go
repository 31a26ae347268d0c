package httpapi

import "reflect"

// SpanSchemaType is the stand-in that describes app.Span.
var SpanSchemaType = reflect.TypeFor[spanSchema]()
