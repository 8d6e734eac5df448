# Packages for the Pi, and what is measured on them. `make packages` leaves the
# packages in build/packages.
NFPM := github.com/goreleaser/nfpm/v2/cmd/nfpm@v2.45.2
VERSION ?= 0.1.0
PACKAGES := build/packages
# The time of the last commit, so that the same source makes the same package.
SOURCE_TIME ?= $(shell git log -1 --format=%ct 2>/dev/null || echo 0)
STAMPED := $(SLIM) -ldflags "-s -w -X main.version=$(VERSION)"

.PHONY: packages package-amd64 package-arm64 package-armhf

packages: package-amd64 package-arm64 package-armhf

package-amd64: ARCH := amd64
package-arm64: ARCH := arm64
# Debian calls every 32-bit ARM with a floating point unit armhf; the first Pi
# and the Zero are of the sixth version of that architecture.
package-armhf: ARCH := arm6

package-amd64 package-arm64 package-armhf: package-%: $(CHART) $(LETTERS)
	@mkdir -p $(PACKAGES)
	@$(MAKE) --no-print-directory program-$*
	@SOURCE_DATE_EPOCH=$(SOURCE_TIME) ARCH=$(ARCH) VERSION=$(VERSION) BUILT=build/$* $(GO) run $(NFPM) package --config deploy/package/nfpm.yaml --packager deb --target $(PACKAGES)/

# Holds the program to its size and its packed fonts to the unpacked ones' tests.
# Installs, upgrades, purges, and follows the install page, on a small Debian
# with a systemd of its own. Making that takes a minute the first time.
.PHONY: packages-test
packages-test: size package-amd64
	@$(MAKE) --no-print-directory package-amd64 VERSION=0.0.9 PACKAGES=build/before
	$(GO) test -count=1 -tags packed ./internal/audit/document -run 'Signs|PDF'
	@deploy/test-root.sh build/root
	$(GO) test -count=1 ./deploy -run 'Install|Package|Service' -v

# The program for each kind of board, as it is packaged.
.PHONY: program-amd64 program-arm64 program-armhf program-armv7 arm
program-amd64: TARGET := GOARCH=amd64
program-arm64: TARGET := GOARCH=arm64
program-armhf: TARGET := GOARCH=arm GOARM=6
program-armv7: TARGET := GOARCH=arm GOARM=7

program-amd64 program-arm64 program-armhf program-armv7: program-%: $(CHART) $(LETTERS)
	@CGO_ENABLED=0 GOOS=linux $(TARGET) $(GO) build $(STAMPED) -o build/$*/recoat ./cmd/recoat

# A simulated night on each board, under emulation, against this machine's.
arm: program-amd64 program-arm64 program-armhf program-armv7
	@ls -l build/*/recoat | awk '{print $$5, "bytes", $$9}'
	$(GO) test -count=1 -timeout 20m ./deploy -run EveryBoard -v
