#!/usr/bin/env bash
# The packages whose tests draw cases at random: those that take the flags of
# the property-test library.
set -euo pipefail
cd "$(dirname "$0")/.."
go list -f '{{$p := .ImportPath}}{{range .TestImports}}{{$p}} {{.}}
{{end}}{{range .XTestImports}}{{$p}} {{.}}
{{end}}' ./... | awk '$2 == "pgregory.net/rapid" { print $1 }' | sort -u
