#!/usr/bin/env bash
# The long checks, a stage each: builds for other systems, tests with the tag
# soak, 1 000 cases of every property, fuzzing of every parser, and the tests of
# the core and the tasks on another architecture under an emulator, the kills of
# a browser while a tablet writes its log, and tablets against a laptop that is
# killed, cut off and filled up. Writes
# docs/soak.md; with arguments only the stages named, whose sections alone are
# written anew. FUZZTIME sets how long each parser is fuzzed (default 5m).
set -euo pipefail
cd "$(dirname "$0")/.."
export CGO_ENABLED=0 GOTOOLCHAIN=local
fuzztime=${FUZZTIME:-5m}
seed=$(date +%s)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# Says what a test run printed, without the machinery round it.
said() { sed -nE 's/^=== RUN +//p; s/^ +[A-Za-z0-9_]+_test\.go:[0-9]+: //p; /^(--- |ok|FAIL|panic)/p' "$1" | head -n 80; }
quoted() { printf '```text\n'; cat; printf '```\n\n'; }
# The last lines of a run that failed, for who watches.
tell() { grep -vE '^(ok|\?)' "$1" | tail -n 60 >&2; }

systems() {
  local failed=0 word
  printf '## Builds for other systems\n\n%s\n\n| system | |\n| --- | --- |\n' "$made"
  for system in windows/amd64 darwin/arm64 linux/arm64; do
    word=builds
    GOOS=${system%/*} GOARCH=${system#*/} go build -tags noweb -o /dev/null ./cmd/brinefield || { failed=1; word='**does not build**'; }
    echo "| $system | $word |"
  done
  echo
  return $failed
}

tagged() {
  local failed=0 names heading
  printf '## Tests with the tag soak\n\n%s\n\n' "$made"
  mapfile -t files < <(grep -rl --include='*_test.go' '^//go:build soak' . | grep -v node_modules | sort)
  for dir in $(printf '%s\n' "${files[@]}" | xargs -n1 dirname | sort -u); do
    # Those of the stages boat and tablets begin with TestBoat and TestTablets.
    names=$(printf '%s\n' "${files[@]}" | grep "^$dir/[^/]*$" | xargs sed -nE 's/^func (Test[A-Za-z0-9_]+)\(.*/\1/p' | sed -E '/^Test(Boat|Tablets)/d' | paste -sd'|')
    [ -n "$names" ] || continue
    echo "  $dir: ${names//|/ }" >&2
    go test -tags soak -run "^($names)\$" -v -count=1 -timeout 12h "$dir" >"$work/run" 2>&1 || { failed=1; tell "$work/run"; }
    heading=${dir#./}
    printf '### %s\n\n' "${heading/#./brinefield}"
    said "$work/run" | quoted
  done
  return $failed
}

properties() {
  local failed=0
  mapfile -t drawn < <(scripts/property-packages.sh)
  go test "${drawn[@]}" -count=1 -timeout 12h -rapid.checks=1000 -rapid.seed="$seed" >"$work/run" 2>&1 || { failed=1; tell "$work/run"; }
  printf '## Property tests, 1 000 cases each\n\n%s Seed %s. Heavy ones draw a twentieth of that.\n\n' "$made" "$seed"
  said "$work/run" | quoted
  return $failed
}

fuzz() {
  local failed=0 dir word runs
  printf '## Fuzzing, %s each\n\n%s\n\n| parser | inputs tried | found |\n| --- | --- | --- |\n' "$fuzztime" "$made"
  while IFS=: read -r file name; do
    dir=$(dirname "$file")
    if go test -run '^$' -fuzz "^$name\$" -fuzztime "$fuzztime" -fuzzminimizetime 10x "./$dir" >"$work/run" 2>&1; then word='no fault'; else word='**fault**'; failed=1; tell "$work/run"; fi
    runs=$(sed -nE 's/.*execs: ([0-9]+).*/\1/p' "$work/run" | tail -n 1)
    echo "| \`$dir\` $name | ${runs:-0} | $word |"
  done < <(grep -rHoE --include='*_test.go' '^func Fuzz[A-Za-z0-9_]+' core internal | sed 's/func //' | sort)
  echo
  return $failed
}

arm64() {
  local failed=0
  mapfile -t rooms < <(find core internal/app -name '*_test.go' -printf './%h\n' | sort -u)
  GOARCH=arm64 go test -short -exec qemu-aarch64-static -count=1 -timeout 12h "${rooms[@]}" >"$work/run" 2>&1 || { failed=1; tell "$work/run"; }
  printf '## The tests of the core and of the tasks on arm64, emulated, without the longest\n\n%s\n\n' "$made"
  grep -E '^(ok|FAIL|---)' "$work/run" | quoted
  return $failed
}

deck() {
  local failed=0
  make --no-print-directory web/node_modules/.stamp >&2
  (cd web && BRINEFIELD_SOAK=1 NO_COLOR=1 npx --no vitest run --config vitest.offline.config.ts kill) >"$work/run" 2>&1 || { failed=1; tell "$work/run"; }
  printf '## A browser killed while a tablet writes its log\n\n%s Up to 200 entries before each kill, every tenth with a photo.\n\n' "$made"
  grep -E '^ *(Tests |[0-9]+ kills, seed)' "$work/run" | quoted
  return $failed
}

boat() {
  local failed=0
  BRINEFIELD_BINARY=$PWD/bin/brinefield go test -tags soak -run '^TestBoat' -v -count=1 -timeout 12h ./cmd/brinefield >"$work/run" 2>&1 || { failed=1; tell "$work/run"; }
  printf '## Tablets against a laptop that is killed, cut off and filled up\n\n%s Tablets written in Go sync over real TLS with `brinefield serve` as a process of its own.\n\n' "$made"
  said "$work/run" | quoted
  return $failed
}

tablets() {
  local failed=0 load
  load=$(cut -d' ' -f1 /proc/loadavg)
  BRINEFIELD_BINARY=$PWD/bin/brinefield go test -tags soak -run '^TestTablets' -v -count=1 -timeout 12h ./cmd/brinefield >"$work/run" 2>&1 || { failed=1; tell "$work/run"; }
  printf '## Ten tablets at once\n\n%s Load of the machine before: %s. Over real TLS with `brinefield serve` as a process of its own, and beside it the same bytes into a bare table.\n\n' "$made" "$load"
  said "$work/run" | quoted
  return $failed
}

# A section as the page holds it already.
kept() { sed -n "/^<!-- stage $1 -->\$/,/^<!-- end $1 -->\$/p" docs/soak.md | sed '1d;$d'; }

all=(systems tagged properties fuzz arm64 deck boat tablets)
stages=("${all[@]}")
[ $# -eq 0 ] || stages=("$@")
scripts/need.sh qemu strace chromium
made="Commit \`$(git rev-parse --short=12 HEAD)\`, $(date +%Y-%m-%d)."
result=0
for stage in "${stages[@]}"; do
  echo "Stage $stage"
  set +e
  (set -e; "$stage") >"$work/section.$stage"
  code=$?
  set -e
  [ $code -eq 0 ] || { echo "  failed"; result=1; }
done
{
  cat <<'TEXT'
# Long checks

Written by `make soak`; do not edit. Each section says at which commit it was made. Coverage is over 200 invented
seasons with the seeds 1 to 200, three times: as planned, with few animals, and with errors in the measured positions.

TEXT
  scripts/machine.sh | grep -vE '^\| (date|commit|load) '
  echo
  for stage in "${all[@]}"; do
    echo "<!-- stage $stage -->"
    if [ -f "$work/section.$stage" ]; then cat "$work/section.$stage"; else kept "$stage"; fi
    echo "<!-- end $stage -->"
  done
} >"$work/page"
mv "$work/page" docs/soak.md
echo "Written: docs/soak.md"
exit $result
