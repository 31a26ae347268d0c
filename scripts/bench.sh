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

# The plates: time from nothing to the field at 1 000 points, and errors against
# finite elements or a closed form.
plates() { # name, tolerance: nanoseconds p95 worst estimate points/s
  awk -v name="BenchmarkPlateRace/$1/$2" '$1 == name {
    ns = $3
    for (i = 4; i < NF; i++) { if ($(i + 1) == "p95") p = $i; if ($(i + 1) == "worst") w = $i; if ($(i + 1) == "estimate") e = $i; if ($(i + 1) == "points/s") q = $i }
    print ns, p, w, e, q; found = 1
  } END { exit !found }' "$work/plates"
}
go test -run '^$' -bench '^BenchmarkPlateRace$' -cpu 1 -count=1 -benchtime 5x ./core/conduction | tee "$work/plates" || failed=1
plate_row() { # what, name, tolerance, seconds allowed, |δE|/|E| allowed at 95 % of the places
  read -r ns p95 worst estimate rate < <(plates "$2" "$3") || { failed=1; return; }
  awk -v what="$1" -v ns="$ns" -v p="$p95" -v w="$worst" -v e="$estimate" -v s="$4" -v a="$5" 'BEGIN {
    kept = ns / 1e9 < s && p <= a
    printf "| %s: 1 000 points, one core | %.3f s; relative error %.1e at 95 %% of the places, %.1e at the worst, own estimate %.1e | under %s s to %s | %s |\n", what, ns / 1e9, p, w, e, s, a, kept ? "yes" : "**no**"
    exit !kept
  }' >>"$work/rows" || failed=1
}
plate_row "flush square plate, 0.6 m" N1_flush_square 0.01 0.1 0.0025
plate_row "flush disc, 0.6 m" N3_flush_disc 0.01 0.1 0.0025
plate_row "plate that stands proud" N7_lying_square 0.01 0.3 0.0025
plate_row "plate buried 2 cm" N5_buried_square 0.005 0.3 0.0025
plate_row "thin disc (closed form)" thin_disc 0.0002 1 0.0002
awk '$1 ~ /^BenchmarkFixesOnAPlate/ {
  for (i = 2; i < NF; i++) { if ($(i + 1) == "points/s") rate = $i; if ($(i + 1) == "first-points/s") first = $i }
  kept = rate >= 100000
  printf "| fixes of a season on a plate: points a second and core, once their table is made (%.0f with the making) | %.0f | 100 000 | %s |\n", first, rate, kept ? "yes" : "**no**"
  found = 1; exit !kept
} END { if (!found) exit 1 }' "$work/rooms" >>"$work/rows" || failed=1
awk '$1 == "BenchmarkPlateRace/N1_flush_square/0.01" {
  for (i = 2; i < NF; i++) if ($(i + 1) == "points/s") rate = $i
  kept = rate >= 100000
  printf "| the same flush square, asked again without a table: points a second and core | %.0f | 100 000 | %s |\n", rate, kept ? "yes" : "**no**"
  found = 1; exit !kept
} END { if (!found) exit 1 }' "$work/plates" >>"$work/rows" || failed=1
# The page Stimulus, as its user waits for it: on all cores, a picture of 200 by
# 120 places.
go test -run '^$' -bench '^BenchmarkStimulus$' -count=1 -benchtime 5x ./internal/app | tee "$work/stimulus" || failed=1
stimulus_row() { # what, name, seconds allowed
  awk -v what="$1" -v name="BenchmarkStimulus/$2" -v s="$3" '{ sub(/-[0-9]+$/, "", $1) } $1 == name {
    kept = $3 / 1e9 < s
    printf "| page *Stimulus*, 200 × 120 places: %s | %.3f s | under %s s | %s |\n", what, $3 / 1e9, s, kept ? "yes" : "**no**"
    found = 1; exit !kept
  } END { if (!found) exit 1 }' "$work/stimulus" >>"$work/rows" || failed=1
}
stimulus_row "the first picture, layers alone, nothing kept" layers/first 0.2
stimulus_row "a knob turned, the part that is exact (plate without an edge)" endless/first 0.1
stimulus_row "flush square plate of 0.6 m to 1 %, nothing kept" plate/first 1
stimulus_row "the same plate, another current and another plane" plate/turned 1

# Small copies of footage, beside ffmpeg alone by turns: the middle of five runs.
go test -run '^$' -bench '^BenchmarkProxyBesideFfmpeg$' -count=5 -benchtime 1x ./internal/ffmpeg | tee "$work/copies" || failed=1
awk '$1 ~ /^BenchmarkProxyBesideFfmpeg/ {
  for (i = 2; i < NF; i++) { if ($(i + 1) == "share") share = $i; if ($(i + 1) == "frames/s") ours = $i; if ($(i + 1) == "bare/s") bare = $i }
  print share, ours, bare
}' "$work/copies" | sort -n | awk '{ share[NR] = $1; ours[NR] = $2; bare[NR] = $3 } END {
  if (NR != 5) exit 1
  kept = share[3] >= 0.9
  printf "| small copies of footage, 1080p, against ffmpeg alone by turns (middle of five runs, %.2f to %.2f) | %.0f against %.0f frames a second, %.2f | 0.90 | %s |\n", share[1], share[5], ours[3], bare[3], share[3], kept ? "yes" : "**no**"
  exit !kept
}' >>"$work/rows" || failed=1

# The tablet's pages, in a browser slowed down four times.
(cd web && BRINEFIELD_MEASURED_DECK=$work/deck npx vitest run --config vitest.e2e.config.ts tests/e2e/deck/measure.test.ts) || failed=1

{
  cat <<'TEXT'
# Performance

Written by `make bench`; do not edit. Where the machine was busy with other work, times are upper bounds.

TEXT
  cat "$work/machine"
  printf '\n## What is promised\n\n| measured | figure | promised | kept |\n| --- | --- | --- | --- |\n'
  cat "$work/rows"
  printf '\nA sparse season is season A many times over, with new trials, visits and animals, and tracks thinned to\nevery sixth row. Times are the best of several runs, memory the largest.\n'
  cat <<'TEXT'

## Plates, beside finite elements

No general finite-element library is installed here, so that the figures of one on another machine stand for it (one core, quadratic
tetrahedra; "s. p. off" has its singular part taken off, as a careful user would do). Its errors are against its own finest mesh, at places 5 cm to 1 m from the middle.

| plate | finite elements | time | memory | at 95 % of the places | at the worst |
| --- | --- | --- | --- | --- | --- |
| flush square | s. p. off, 8 431 cells | 0.79 s | 181 MB | 1.1e-3 | 2.4e-3 |
| flush disc | s. p. off, 22 218 cells | 1.44 s | 199 MB | 7.1e-4 | 1.6e-3 |
| buried square | s. p. off, 18 986 cells | 2.16 s | 202 MB | 8.9e-4 | 2.2e-3 |
| flush disc | plain, 718 036 cells | 199 s | 4.3 GB | 9.3e-3 | 9.5e-3 |

This program, from nothing to 1 000 points on one core: `ns/op`, with the tolerance asked for at the end of the name.

```text
TEXT
  grep '^BenchmarkPlateRace' "$work/plates"
  printf '```\n'
  cat <<'TEXT'

## The tablet's pages

Chromium over HTTPS from the program's own authority, the page's processor slowed down four times, a cold start of the browser for each of five runs: the middle run and the worst. *First paint* is
what the browser calls first contentful paint: it may be the one word that the page brings along; *whole* is when the page's own text stood there. "Without the laptop" is with the program killed.

| page | first paint | whole | promised | kept |
| --- | --- | --- | --- | --- |
TEXT
  cat "$work/deck"
  cat <<'TEXT'

The lower table is a day of doing nothing, simulated: eight hours of the browser's virtual time with the page in front. Wake-ups are calls of timers that the page set; the heap is what was added after a
collection of garbage. In front and in a trial that runs, the countdown wakes once a second; ten minutes after its end four times a minute. Virtual time outruns
the net, so that the requests are a lower bound: the page asks at most every five minutes, and at most once a minute while entries wait. What a screen takes, a simulation cannot tell.
TEXT
  cat <<'TEXT'

## Ten tablets at once

Ten tablets, written in Go, bring 5 000 entries each at the same time over TLS to `brinefield serve`, in batches of 500, and the same bytes go into a bare table of the same SQLite in transactions
of 500, by turns in the same run. The tablets' own side of TLS and JSON runs on the same cores. Measured by `scripts/soak.sh tablets`, which also checks that none is lost ([long checks](soak.md)):

TEXT
  at_once=$(sed -n '/^<!-- stage tablets -->$/,/^<!-- end tablets -->$/p' docs/soak.md)
  grep '^Commit' <<<"$at_once" | sed 's/ Over real TLS.*//'
  printf '\n```text\n'
  grep ' at once (' <<<"$at_once"
  printf '```\n'
  printf '\n## Rooms, on one core\n\n```text\n'
  grep -E '^(pkg:|Benchmark)' "$work/rooms"
  printf '```\n'
} >"$work/page"
mv "$work/page" docs/performance.md
echo "Written: docs/performance.md"
exit $failed
