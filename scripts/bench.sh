#!/usr/bin/env bash
# Measures speed and memory and writes docs/performance.md. Called by
# `make bench`, which builds the program first. Fails, after writing, where a
# figure is beyond what is promised.
set -euo pipefail
cd "$(dirname "$0")/.."
export CGO_ENABLED=0 GOTOOLCHAIN=local
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
scripts/machine.sh >"$work/machine"

failed=0
echo "Measuring the program"
BRINEFIELD_MEASURED=$work/rows go test -tags measure -run '^TestMeasure' -count=1 -timeout 30m . ./cmd/brinefield || failed=1

# Only packages that have benchmarks: the others would print noise.
mapfile -t benched < <(grep -rl --include='*_test.go' '^func Benchmark' core internal | xargs -n1 dirname | sort -u)
echo "Measuring the rooms: ${benched[*]}"
go test -run '^$' -bench . -benchmem -cpu 1 -count=1 -timeout 60m "${benched[@]/#/./}" | tee "$work/rooms" || failed=1
# A disc is never quiet for long: the share of the durable entries is the
# middle one of five longer runs.
go test -run '^$' -bench '^BenchmarkAppendBesideBare$' -cpu 1 -count=5 -benchtime 3s ./internal/sqlite | tee "$work/store" || failed=1

# The promise that a benchmark of the core measures, with its own error.
awk '$1 ~ /^BenchmarkPairInThreeLayers/ {
  for (i = 2; i < NF; i++) { if ($(i + 1) == "Mpoints/s") speed = $i; if ($(i + 1) == "rel-error") error = $i }
  kept = speed >= 1 && error <= 1e-6
  printf "| field of one pair in three layers, set-up included, one core | %.1f M points/s, largest error %.1e | 1 M points/s, 1e-6 | %s |\n", speed, error, kept ? "yes" : "**no**"
  found = 1; exit !kept
} END { if (!found) exit 1 }' "$work/rooms" >>"$work/rows" || failed=1

awk '$1 ~ /^BenchmarkAppendBesideBare/ {
  for (i = 2; i < NF; i++) { if ($(i + 1) == "share") share = $i; if ($(i + 1) == "entries/s") entries = $i; if ($(i + 1) == "bare/s") bare = $i }
  print share, entries, bare
}' "$work/store" | sort -n | awk '{ share[NR] = $1; entries[NR] = $2; bare[NR] = $3 } END {
  if (NR != 5) exit 1
  kept = share[3] >= 0.8
  printf "| durable entries, against bare inserts of the same bytes by turns (middle of five runs, %.2f to %.2f) | %.0f against %.0f a second, %.2f | 0.80 | %s |\n", share[1], share[5], entries[3], bare[3], share[3], kept ? "yes" : "**no**"
  exit !kept
}' >>"$work/rows" || failed=1
awk '$1 ~ /^BenchmarkRebuild/ {
  for (i = 2; i < NF; i++) if ($(i + 1) == "ns/entry") cost[++n] = $i
} END {
  if (n != 2) exit 1
  kept = cost[2] <= 1.5 * cost[1]
  printf "| records made again from 10 000 and from 100 000 entries | %.0f and %.0f µs an entry | linear | %s |\n", cost[1] / 1000, cost[2] / 1000, kept ? "yes" : "**no**"
  exit !kept
}' "$work/rooms" >>"$work/rows" || failed=1

{
  cat <<'TEXT'
# Performance

Written by `make bench`; do not edit. Where the machine was busy with other work, times are upper bounds.

TEXT
  cat "$work/machine"
  printf '\n## What is promised\n\n| measured | figure | promised | kept |\n| --- | --- | --- | --- |\n'
  cat "$work/rows"
  printf '\nA sparse season is season A many times over, with new trials, visits and animals, and tracks thinned to\nevery sixth row. Times are the best of several runs, memory the largest.\n'
  printf '\n## Rooms, on one core\n\n```text\n'
  grep -E '^(pkg:|Benchmark)' "$work/rooms"
  printf '```\n'
} >"$work/page"
mv "$work/page" docs/performance.md
echo "Written: docs/performance.md"
exit $failed
