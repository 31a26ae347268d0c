#!/usr/bin/env bash
# The long checks: tests with the tag soak, fuzzing of every parser, and the
# tests of the core on another architecture under an emulator. Writes
# docs/soak.md. FUZZTIME sets how long each parser is fuzzed (default 5m).
set -euo pipefail
cd "$(dirname "$0")/.."
export CGO_ENABLED=0 GOTOOLCHAIN=local
scripts/need.sh qemu strace
fuzztime=${FUZZTIME:-5m}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
scripts/machine.sh >"$work/machine"
failed=0

# Says what a test run printed, without the machinery round it.
said() { sed -nE 's/^=== RUN +//p; s/^ +[A-Za-z0-9_]+_test\.go:[0-9]+: //p; /^(--- |ok|FAIL|panic)/p' "$1" | head -n 80; }

echo "Builds for other systems"
for system in windows/amd64 darwin/arm64 linux/arm64; do
  word=builds
  GOOS=${system%/*} GOARCH=${system#*/} go build -tags noweb -o /dev/null ./cmd/brinefield || { failed=1; word='**does not build**'; }
  echo "| $system | $word |" | tee -a "$work/systems"
done

echo "Tests with the tag soak"
mapfile -t files < <(grep -rl --include='*_test.go' '^//go:build soak' . | grep -v node_modules | sort)
for dir in $(printf '%s\n' "${files[@]}" | xargs -n1 dirname | sort -u); do
  names=$(printf '%s\n' "${files[@]}" | grep "^$dir/[^/]*$" | xargs sed -nE 's/^func (Test[A-Za-z0-9_]+)\(.*/\1/p' | paste -sd'|')
  [ -n "$names" ] || continue
  echo "$dir: ${names//|/ }"
  go test -tags soak -run "^($names)\$" -v -count=1 -timeout 12h "$dir" >"$work/run" 2>&1 || failed=1
  heading=${dir#./}
  { printf '### %s\n\n```text\n' "${heading/#./brinefield}"; said "$work/run"; printf '```\n\n'; } | tee -a "$work/soak"
done

seed=$(date +%s)
echo "Property tests, 1 000 cases each from seed $seed"
mapfile -t drawn < <(scripts/property-packages.sh)
go test "${drawn[@]}" -count=1 -timeout 12h -rapid.checks=1000 -rapid.seed="$seed" >"$work/run" 2>&1 || failed=1
{ printf '### Property tests, 1 000 cases each from seed %s\n\n```text\n' "$seed"; said "$work/run"; printf '```\n\n'; } | tee -a "$work/soak"

echo "Fuzzing, $fuzztime each"
while IFS=: read -r file name; do
  dir=$(dirname "$file")
  if go test -run '^$' -fuzz "^$name\$" -fuzztime "$fuzztime" "./$dir" >"$work/run" 2>&1; then word='no fault'; else word='**fault**'; failed=1; tail -n 30 "$work/run"; fi
  runs=$(sed -nE 's/.*execs: ([0-9]+).*/\1/p' "$work/run" | tail -n 1)
  echo "| \`$dir\` $name | ${runs:-0} | $word |" | tee -a "$work/fuzz"
done < <(grep -rHoE --include='*_test.go' '^func Fuzz[A-Za-z0-9_]+' core internal | sed 's/func //' | sort)

echo "The core and the tasks on arm64, emulated"
mapfile -t rooms < <(find core internal/app -name '*_test.go' -printf './%h\n' | sort -u)
GOARCH=arm64 go test -short -exec qemu-aarch64-static -count=1 -timeout 12h "${rooms[@]}" >"$work/arm64" 2>&1 || { failed=1; grep -vE '^(ok|\?)' "$work/arm64" | tail -n 60; }

{
  cat <<'TEXT'
# Long checks

Written by `make soak`; do not edit. Coverage is over 200 invented seasons with the seeds 1 to 200, three times:
as planned, with few animals, and with errors in the measured positions.

TEXT
  cat "$work/machine"
  printf '\n## Builds for other systems\n\n| system | |\n| --- | --- |\n'
  cat "$work/systems"
  printf '\n## Tests with the tag soak\n\n'
  cat "$work/soak" 2>/dev/null || true
  printf '## Fuzzing, %s each\n\n| parser | inputs tried | found |\n| --- | --- | --- |\n' "$fuzztime"
  cat "$work/fuzz" 2>/dev/null || true
  printf '\n## The tests of the core and of the tasks on arm64, emulated\n\n```text\n'
  grep -E '^(ok|FAIL|---)' "$work/arm64" || true
  printf '```\n'
} >"$work/page"
mv "$work/page" docs/soak.md
echo "Written: docs/soak.md"
exit $failed
