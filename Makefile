# make run    builds the program and plays the bundled job
# make test   proves it: vet, format, every test
# make race   the tests under the race detector       make cover   how much of the code they reach
# make bench  the speeds                              make lint    the linters
# make peers  bin/stepcaller-peers, whose hearing-test has PocketSphinx beside our ears

# `go test ./...` passes over a folder called testdata, though this one is a package.
PACKAGES = ./... ./testdata
SOUND    = ./speech/... ./testdata # measures in real time, so alone
WORK     = ./cmd/... ./narrator/... ./procedures/...
FOLDERS  = cmd narrator speech procedures testdata
RACE     = $(PACKAGES)
LINT     = go run github.com/golangci/golangci-lint/v2/cmd/golangci-lint@v2.15.0

.PHONY: run build test check race bench cover lint peers clean

run: build
	bin/stepcaller demo

build:
	@.ci/setup.sh run
	go build -o bin/stepcaller ./cmd/stepcaller

test: check
	go test -p 2 -timeout 20m $(WORK)
	go test -p 1 -timeout 15m $(SOUND)

check:
	@.ci/setup.sh test
	go vet $(PACKAGES)
	@unformatted=$$(gofmt -l $(FOLDERS)); test -z "$$unformatted" || { echo "run gofmt -w on: $$unformatted" >&2; exit 1; }

race:
	@.ci/setup.sh test
	go test -race -gcflags=all=-d=checkptr=0 $(RACE) # PortAudio's binding passes a number as a pointer

bench:
	@.ci/setup.sh test
	go test -p 1 -run '^$$' -bench . -benchmem -timeout 60m $(PACKAGES)

cover:
	@.ci/setup.sh test
	go test -cover $(PACKAGES)

lint:
	@.ci/setup.sh run
	go mod tidy -diff
	$(LINT) run $(PACKAGES)

peers:
	@.ci/setup.sh peers
	go build -tags pocketsphinx -o bin/stepcaller-peers ./cmd/stepcaller
	go test -tags pocketsphinx -timeout 5m ./speech/hearing

clean:
	rm -rf bin
