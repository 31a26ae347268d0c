#!/usr/bin/env bash
# Everything that must hold before a change goes in. All stages run, so that
# one look shows every fault; the times at the end show where they go.
# With arguments, only the stages named. Called by `make check`.
set -euo pipefail
cd "$(dirname "$0")/.."
export CGO_ENABLED=0 GOTOOLCHAIN=local GOFLAGS=${GOFLAGS:--buildvcs=false}
tool=(go tool -modfile=tools/misc/go.mod)

needs() {
  scripts/need.sh chromium certutil exiftool dwebp ffmpeg xmllint pdftotext gcc node && command -v go >/dev/null || return 1
  # Half the work for the browser; the whole one does where a system has no such package.
  scripts/need.sh chromium-headless-shell || echo "Going on with chromium alone."
}

format() {
  local rough
  rough=$(scripts/go-files.sh | xargs "${tool[@]}" gofumpt -l)
  [ -z "$rough" ] || { printf 'Not formatted (make fmt):\n%s\n' "$rough"; return 1; }
}

# The tags only add files: with them all is looked at.
vet() { go vet -tags soak,measure ./... && "${tool[@]}" staticcheck -tags soak,measure ./...; }

# The database runs only with the very library that it was made with.
pins() {
  local wants has
  wants=$(awk '$1 == "modernc.org/libc" { print $2 }' "$(go list -m -f '{{.Dir}}' modernc.org/sqlite)/go.mod")
  has=$(go list -m -f '{{.Version}}' modernc.org/libc)
  [ -n "$wants" ] && [ "$has" = "$wants" ] || { echo "modernc.org/libc is $has, and modernc.org/sqlite wants $wants: go get modernc.org/libc@$wants"; return 1; }
}

# The race detector is too slow for all of it: of core, the tests that compare
# one core with several, which say so in their name; of the rest, not the longest
# reckonings of one thread, and no package that runs nothing side by side.
race() (
  export CGO_ENABLED=1
  local joined
  joined=$(go list ./internal/... | grep -vE '/internal/(pictures|cliptest)$')
  both "go test -race -run Cores|Workers ./core/inference ./core/conduction ./core/exposure" "go test -race -short ${joined//$'\n'/ }"
)

# Two commands side by side: each alone would end with one slow package and an
# idle core. Both must hold.
both() {
  local first
  $1 &
  first=$!
  $2 || { wait $first || true; return 1; }
  wait $first
}

# Property tests draw from a fixed seed here, so that a run says the same twice;
# make soak draws many more cases from a new one.
unit() {
  local seeded plain
  seeded=$(scripts/property-packages.sh)
  plain=$(go list ./... | grep -vxF "$seeded")
  both "go test ${seeded//$'\n'/ } -rapid.seed=20261125" "go test ${plain//$'\n'/ }"
}

# A field laptop may run another system; make soak builds for the rest.
systems() { GOOS=windows GOARCH=amd64 go build -tags noweb -o /dev/null ./cmd/brinefield; }

packages() { make --no-print-directory web/node_modules/.stamp; }

# What is generated from the Go types must be what is committed.
generated() {
  go run ./cmd/brinefield openapi | diff -u web/openapi.yaml - &&
    (cd web && npx --no openapi-typescript openapi.yaml 2>/dev/null |
      npx --no -- prettier --stdin-filepath src/lib/api/schema.d.ts | diff -u src/lib/api/schema.d.ts -) ||
    { echo "The API description or its client is out of date: run make generate."; return 1; }
}

# The types and the style are looked at side by side: each takes one core.
web() (
  cd web
  npm run --silent check &
  npm run --silent lint
  wait $!
  npm run --silent test
)

build() { make --no-print-directory build && ls -l bin/brinefield; }

browser() { (cd web && npm run --silent e2e); }

stages=(needs pins format vet unit race systems packages generated web build browser)
[ $# -eq 0 ] || stages=("$@")
summary=()
failed=()
for stage in "${stages[@]}"; do
  printf '\n== %s\n' "$stage"
  began=$SECONDS
  # A function called in a condition would not stop at its first failure: run
  # each in a shell of its own.
  set +e
  (set -e; "$stage")
  code=$?
  set -e
  word=ok
  [ $code -eq 0 ] || { word=FAILED; failed+=("$stage"); }
  summary+=("$(printf '%-10s %-6s %4d s' "$stage" "$word" $((SECONDS - began)))")
  if [ $code -ne 0 ] && [ "$stage" = needs ]; then break; fi # nothing can run without
done
printf '\n== summary\n'
printf '%s\n' "${summary[@]}" "$(printf '%-10s %-6s %4d s' all '' $SECONDS)"
if [ ${#failed[@]} -gt 0 ]; then
  echo "Failed: ${failed[*]}. One stage alone: scripts/check.sh ${failed[0]}" >&2
  exit 1
fi
