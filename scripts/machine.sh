#!/usr/bin/env bash
# Prints the table that says where and from what a measurement was taken.
set -euo pipefail
cpu=$(sed -n 's/^model name[[:space:]]*: //p' /proc/cpuinfo 2>/dev/null | head -n 1)
cat <<TABLE
| | |
| --- | --- |
| date | $(date -u +%Y-%m-%d) |
| commit | \`$(git describe --always --dirty --abbrev=12 --exclude '*' 2>/dev/null || echo unknown)\` |
| processor | ${cpu:-$(uname -m)}, $(getconf _NPROCESSORS_ONLN) cores |
| memory | $(awk '/MemTotal/ {printf "%.0f GB", $2 / 1e6}' /proc/meminfo 2>/dev/null || echo unknown) |
| system | $(uname -s) $(uname -r), $(go env GOOS)/$(go env GOARCH) |
| Go | $(go env GOVERSION) |
| load before the start | $(cut -d' ' -f1 /proc/loadavg 2>/dev/null || echo unknown) |
TABLE
