package app

// Coarsened is for tests.
var Coarsened = coarsened
