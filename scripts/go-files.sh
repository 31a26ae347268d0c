#!/usr/bin/env bash
# Lists our Go files; Node packages bring some of their own.
set -euo pipefail
find . \( -path ./.git -o -name node_modules \) -prune -o -name '*.go' -print
