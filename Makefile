# Two commands matter: `make up` runs recoat, `make test` checks all of it.
GO ?= go
CHART := dashboards/assets/lib/uPlot.iife.min.js
TYPES := dashboards/web/node_modules/typescript/package.json
AXE := testdata/axe/node_modules/axe-core/axe.min.js
FONTS := internal/audit/document/letters
LETTERS := $(FONTS)/DejaVuSans.ttf.gz $(FONTS)/DejaVuSans-Bold.ttf.gz
ORACLE := testdata/oracle/node_modules/psychrolib/package.json

.PHONY: up build size test bench lint tools influxd faults peers fuzz vulncheck

up: build
	bin/recoat up

build: $(CHART) $(LETTERS)
	@CGO_ENABLED=0 $(GO) build $(SLIM) -o bin/recoat ./cmd/recoat

# How every program is built. Over TLS the pages speak HTTP/1.1: the second version
# is half a megabyte, and a phone or two gain nothing by it. The fonts of the PDFs
# are packed. Nothing is inlined where nothing is in a hurry: in what runs once, or
# once a page, a mail or a document.
UNHURRIED := \
	recoat/cmd/... recoat/dashboards/... recoat/internal/access recoat/internal/alert/... recoat/internal/audit/... \
	recoat/internal/authority recoat/internal/demo recoat/internal/display recoat/internal/doctor recoat/internal/observe \
	recoat/internal/shop/... recoat/internal/store/influx recoat/internal/upgrade recoat/internal/upkeep \
	recoat/sensors/chip recoat/sensors/emulated recoat/sensors/kernel recoat/sensors/wiring \
	codeberg.org/... github.com/alecthomas/... github.com/boombuler/... github.com/coreos/... github.com/dustin/... \
	github.com/google/... github.com/gorilla/... github.com/influxdata/... github.com/mattn/... github.com/mitchellh/... \
	github.com/nicholas-fedor/... github.com/oapi-codegen/... github.com/pelletier/... github.com/rivo/... \
	github.com/schollz/... github.com/wneessen/... golang.org/x/image/... golang.org/x/net/... golang.org/x/text/... \
	periph.io/... \
	crypto/ecdsa crypto/rsa crypto/tls crypto/x509/... encoding/asn1 encoding/csv encoding/gob encoding/pem encoding/xml \
	go/... html/... image/... log/... math/big mime/... net net/http/... net/mail net/netip net/textproto net/url \
	os/... regexp/... runtime/pprof runtime/trace text/... vendor/golang.org/x/net/... vendor/golang.org/x/text/...
SLIM := -trimpath -tags nethttpomithttp2,packed $(foreach p,$(UNHURRIED),-gcflags=$(p)=-l)

# The program as it is packaged, in bytes. Above the bound it fails.
LARGEST := 26214400
size: $(CHART) $(LETTERS)
	@CGO_ENABLED=0 $(GO) build $(SLIM) -ldflags "-s -w" -o build/size/recoat ./cmd/recoat
	@ls -l build/size/recoat | awk '{print $$5, "bytes", $$9; if ($$5 > $(LARGEST)) {print "larger than $(LARGEST) bytes"; exit 1}}'

test: tools $(CHART) $(TYPES) $(ORACLE) $(AXE)
	@unformatted="$$(gofmt -l $$(git ls-files '*.go'))"; test -z "$$unformatted" || { echo "gofmt these: $$unformatted"; exit 1; }
	$(GO) vet ./...
	$(GO) test ./...

# Prints the figures that the documents quote. Never part of `make test`.
bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

# A million inputs for every decoder that a network or a file reaches:
# internal/faults/FUZZ.md lists them. A restore of the journal makes two databases
# of every input, so that it gets fewer: what it decodes is FuzzReadBackup's. What
# fails is kept below testdata/fuzz of its package. Finding the shortest form of
# every new input would take most of the time, and is bounded.
fuzz:
	@mkdir -p build; for f in $$(git ls-files '*_test.go' | xargs grep -ho '^func Fuzz[A-Za-z0-9]*' | sort -u | cut -c6-); do \
		for folder in $$(git ls-files '*_test.go' | xargs grep -l "^func $$f(" | xargs -n1 dirname | sort -u); do \
			inputs=1000000x; test $$f != FuzzRestoreJournal || inputs=20000x; \
			echo "$$folder $$f $$inputs"; $(GO) test -run '^$$' -fuzz "^$$f$$" -fuzztime $$inputs -fuzzminimizetime 10x ./$$folder >build/fuzz.log 2>&1 || { tail -30 build/fuzz.log; exit 1; }; \
			grep -o 'execs: [0-9]*' build/fuzz.log | tail -1; \
		done; \
	done

# A server to try the InfluxDB store on. It is built once; the tests that want it
# are skipped by name where it is not there.
INFLUXD := build/influxd
influxd: $(INFLUXD)
$(INFLUXD):
	GOFLAGS= GOBIN=$(CURDIR)/build $(GO) install github.com/influxdata/influxdb/cmd/influxd@v1.8.10

# Recoat against what people would otherwise wire together: InfluxDB, Telegraf,
# mosquitto and VictoriaMetrics. It takes a quarter of an hour, half of it to build,
# and prints each ratio beside what is asked of it.
PEERS := build/telegraf
peers: tools $(INFLUXD) $(PEERS)
	@command -v victoria-metrics >/dev/null || DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends victoria-metrics
	RECOAT_PEERS=1 $(GO) test -v -count=1 -timeout 60m ./internal/peers

# Telegraf is built in its own module, so that its own sums are held to, and with
# the two plugins that are used.
TELEGRAF := github.com/influxdata/telegraf@v1.36.4
$(PEERS):
	folder=$$(mktemp -d) && trap 'chmod -R u+w "$$folder"; rm -rf "$$folder"' EXIT && \
	cp -r "$$($(GO) mod download -json $(TELEGRAF) | sed -n 's/.*"Dir": "\(.*\)",/\1/p')/." "$$folder" && chmod -R u+w "$$folder" && \
	cd "$$folder" && GOFLAGS=-mod=readonly CGO_ENABLED=0 $(GO) build -o $(CURDIR)/build/telegraf \
		-tags "custom inputs inputs.mqtt_consumer outputs outputs.influxdb parsers parsers.influx" ./cmd/telegraf

# A thousand kills, cuts and other faults, and as many disks after power cuts.
# RECOAT_SEED repeats a campaign.
faults:
	RECOAT_FAULTS=1000 RECOAT_IMAGES=1000 $(GO) test -v -count=1 -timeout 60m -run 'Campaign|PowerCut' ./internal/faults ./internal/store/sqlite ./internal/telemetry ./internal/upgrade

lint:
	$(GO) run github.com/golangci/golangci-lint/v2/cmd/golangci-lint@v2.15.0 run

# Known faults of what is built in. Its database is on the network.
vulncheck:
	$(GO) run golang.org/x/vuln/cmd/govulncheck@v1.9.0 ./...

# A browser and a second broker, for the tests that want them. Without the
# right to install, those tests are skipped by name.
tools:
	@missing=""; \
	command -v chromium >/dev/null || missing="$$missing chromium"; \
	command -v mosquitto >/dev/null || missing="$$missing mosquitto"; \
	command -v strace >/dev/null || missing="$$missing strace"; \
	command -v node >/dev/null || missing="$$missing nodejs"; \
	command -v npm >/dev/null || missing="$$missing npm"; \
	command -v pdftotext >/dev/null || missing="$$missing poppler-utils"; \
	if [ -z "$$missing" ]; then exit 0; fi; \
	if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
		apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $$missing; \
	else echo "not installed:$$missing; the tests that need them will be skipped"; fi

# The chart library of the room page. Without npm the pages draw their own.
$(CHART): dashboards/web/package.json dashboards/web/package-lock.json
	@if command -v npm >/dev/null; then cd dashboards/web && npm ci --omit=dev --no-audit --no-fund --silent && npm run --silent build; \
	else echo "npm is not installed: the room page does without the chart library"; fi

# The fonts of the PDFs, as their module has them, but compressed.
$(LETTERS): go.mod
	@mkdir -p $(FONTS)
	@gzip -9nc "$$($(GO) mod download -json github.com/go-fonts/dejavu | sed -n 's/.*"Dir": "\(.*\)",/\1/p')"/*/$(basename $(@F)) > $@

# The checker of the scripts' types. It is never built in; what the chart needs
# comes with it.
$(TYPES): $(CHART)
	@if command -v npm >/dev/null; then cd dashboards/web && npm ci --no-audit --no-fund --silent; \
	else echo "npm is not installed: the types of the scripts are not checked"; fi

# The reference library for moist air that the tests compare with.
$(ORACLE): testdata/oracle/package.json testdata/oracle/package-lock.json
	@if command -v npm >/dev/null; then cd testdata/oracle && npm ci --no-audit --no-fund --silent; \
	else echo "npm is not installed: the comparison with psychrolib will be skipped"; fi

# The checker of accessibility that the tests run over the pages. It is never
# built in.
$(AXE): testdata/axe/package.json testdata/axe/package-lock.json
	@if command -v npm >/dev/null; then cd testdata/axe && npm ci --no-audit --no-fund --silent; \
	else echo "npm is not installed: the pages are not checked with axe-core"; fi

include deploy/deploy.mk
