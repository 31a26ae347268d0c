#!/usr/bin/env bash
# Work on the program: the program is rebuilt and started again whenever a Go
# file changes, and Vite shows the app with live reload and hands calls of the
# API on to it. With a season folder as argument, that one, else the demo.
set -euo pipefail
cd "$(dirname "$0")/.."
export CGO_ENABLED=0 GOTOOLCHAIN=local GOFLAGS=-buildvcs=false
port=${PORT:-7380}
web_port=$((port + 1))
show=(demo)
[ $# -eq 0 ] || show=(open "$1")
work=$(mktemp -d)
server='' vite=''
finish() {
  trap - EXIT INT TERM
  for p in $server $vite; do kill "$p" 2>/dev/null || true; done
  rm -rf "$work"
}
trap finish EXIT
trap 'exit 130' INT TERM

(cd web && BRINEFIELD_URL=http://127.0.0.1:$port exec npx --no -- vite --port "$web_port" --strictPort --clearScreen false) &
vite=$!

start() {
  go build -tags noweb -o "$work/brinefield" ./cmd/brinefield || { echo "The last build stays up until this one works."; return 0; }
  if [ -n "$server" ]; then
    kill "$server" 2>/dev/null || true
    wait "$server" 2>/dev/null || true
  fi
  : >"$work/said" # else the link of the program before could be read
  "$work/brinefield" "${show[@]}" --no-browser --port "$port" >"$work/said" &
  server=$!
  local entry='' tries=0
  until entry=$(grep -o '/enter?token=[^ ]*' "$work/said") || [ $((tries += 1)) -gt 50 ]; do sleep 0.1; done
  # Each start makes a new link: the one before was for the program before.
  [ -z "$entry" ] || echo "Open http://127.0.0.1:$web_port$entry"
}

touch "$work/seen"
start
while sleep 1; do
  changed=$(find cmd core internal web -path web/node_modules -prune -o ! -name '*_test.go' \( -name '*.go' -o -name '*.toml' -o -name '*.csv' \) -newer "$work/seen" -print -quit)
  if [ -n "$changed" ]; then
    touch "$work/seen"
    echo "$changed changed: building"
    start
  fi
  kill -0 "$vite" 2>/dev/null || { echo "Vite ended."; exit 1; }
done
