# What each target needs is installed by scripts/setup.sh on Debian; see README.
GOFUMPT     := mvdan.cc/gofumpt@v0.12.0
STATICCHECK := honnef.co/go/tools/cmd/staticcheck@v0.8.2
TYPESCRIPT  := 5.9.3
ESBUILD     := github.com/evanw/esbuild/cmd/esbuild@v0.28.2
export CGO_ENABLED ?= 1

# nomsgpack leaves out a body format that gin brings and nothing here speaks.
BUILD := CGO_ENABLED=0 go build -trimpath -tags nomsgpack -ldflags='-s -w'

.PHONY: test check build web web-check bench soak demo setup

# Everything a change must pass: set-up, format, vet, static checks, all tests.
test: setup check
	go test -race -shuffle=on -timeout 20m ./...

setup:
	sh scripts/setup.sh

check: web-check web-types
	@out="$$(go run $(GOFUMPT) -l .)"; test -z "$$out" || { echo "not gofumpt-formatted:"; echo "$$out"; exit 1; }
	go vet ./...
	go run $(STATICCHECK) ./...

# One static binary for a real site.
build:
	$(BUILD) -o storeyrod .

# Bundle the browser scripts; the result is committed, so go run needs Go alone.
web:
	go run $(ESBUILD) web/src/app.ts --bundle --minify --format=esm --target=es2022 --outfile=web/static/app.js

web-check:
	@tmp="$$(mktemp)"; go run $(ESBUILD) web/src/app.ts --bundle --minify --format=esm --target=es2022 --log-level=warning >"$$tmp" && \
	cmp -s "$$tmp" web/static/app.js || { echo "web/static/app.js is not a fresh build of web/src; run make web"; rm -f "$$tmp"; exit 1; }; rm -f "$$tmp"

# Types of the browser scripts, where npm is installed; the bundle needs Go alone.
web-types:
	@if command -v npx >/dev/null; then npx -y -p typescript@$(TYPESCRIPT) tsc --noEmit -p web/src; \
	else echo "npm is not installed: the types of web/src are not checked"; fi

bench:
	sh scripts/setup.sh bench
	sh scripts/bench.sh

# Long runs that no change waits for.
soak: setup
	sh scripts/soak.sh

demo:
	go run . demo
