# Brinefield: `make` lists what can be made. Needs Go 1.26 and Node 20 or
# newer; what else a target needs, scripts/need.sh installs or names.

SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:

# One setting of cgo for everything but the race detector: else all is built twice.
export CGO_ENABLED := 0
export GOTOOLCHAIN := local
export GOFLAGS := -buildvcs=false

version := $(shell sed -n 's/^\#\# \([0-9][^ ]*\).*/\1/p' CHANGELOG.md | head -n 1)
commit  := $(shell git describe --always --dirty --abbrev=12 --exclude '*' 2>/dev/null || echo unknown)
ldflags := -s -w -X main.version=$(version) -X main.commit=$(commit)

web_sources := $(shell find web/src web/public web/index.html web/package.json web/package-lock.json \
	web/vite.config.ts web/svelte.config.js web/tsconfig.json -type f 2>/dev/null)

.PHONY: help
help: ## List the targets
	@sed -n 's/^\([a-z]*\):.*## \(.*\)/\1\t\2/p' $(MAKEFILE_LIST) | expand -t 12

.PHONY: demo
demo: build ## Build, then show the demo study (invented data) in the browser
	bin/brinefield demo

.PHONY: build
build: web/dist/index.html ## Build bin/brinefield: static, with the web app inside
	go build -trimpath -ldflags '$(ldflags)' -o bin/brinefield ./cmd/brinefield

.PHONY: check
check: ## Everything that must hold before a change goes in
	scripts/check.sh

.PHONY: soak
soak: build ## The long checks (an hour and a half; FUZZTIME=10s: 40 minutes): coverage, fuzzing, load, another architecture; writes docs/soak.md
	scripts/soak.sh

.PHONY: bench
bench: build ## Measure speed and memory; writes docs/performance.md
	scripts/bench.sh

.PHONY: dev
dev: web/node_modules/.stamp ## Work on the program: front and back reload on every change
	scripts/dev.sh

.PHONY: fmt
fmt: web/node_modules/.stamp ## Format Go, TypeScript and Svelte
	scripts/go-files.sh | xargs go tool -modfile=tools/misc/go.mod gofumpt -w
	cd web && npm run --silent format

.PHONY: generate
generate: web/node_modules/.stamp ## Make the API description and its TypeScript client from the Go types, the queries from SQL
	go tool -modfile=tools/sqlc/go.mod sqlc generate
	go run ./cmd/brinefield openapi > web/openapi.yaml.new
	mv web/openapi.yaml.new web/openapi.yaml
	cd web && npm run --silent api

.PHONY: clean
clean: ## Remove what was built
	rm -rf bin web/node_modules
	find web/dist -mindepth 1 ! -name .gitkeep -delete

# npm ci only when the list of packages changed.
web/node_modules/.stamp: web/package-lock.json
	scripts/need.sh node
	cd web && npm ci --no-audit --no-fund
	touch $@

web/dist/index.html: web/node_modules/.stamp $(web_sources)
	cd web && npm run --silent build
	touch $@
