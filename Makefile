# What can be done with Evenwire. Each target first installs what it needs: Debian packages that are
# missing (as root, or with sudo), and the page's packages when their lock file changed.
# Needed beforehand: git, a Rust toolchain with rustfmt and clippy, Node 20.19 or newer with npm; what is missing of
# them is told first. Tests want the network once more, for the reference libraries, and a python3 of 3.11 or newer.

SHELL := bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := help
MAKEFLAGS += --no-print-directory
.PHONY: help run hub test whole trials ui page shots bench growth types icons clean

TARGET := $(abspath $(or $(CARGO_TARGET_DIR),target))
NEED := tests/scripts/need.sh
VERSIONS := tests/scripts/versions.sh
SERVE_PACKAGES := build-essential pkg-config libdbus-1-dev dbus
WINDOW_PACKAGES := $(SERVE_PACKAGES) libwebkit2gtk-4.1-dev
TEST_PACKAGES := $(WINDOW_PACKAGES) xvfb webkit2gtk-driver chromium postgresql gnome-keyring
NODE_MODULES := ui/node_modules/.package-lock.json
# The window stories and the walk through the page run the programs built here; none of them touches the key store of
# whoever runs them.
PROGRAMS := EVENWIRE_APP=$(TARGET)/debug/evenwire EVENWIRE_CLI=$(TARGET)/debug/evenwire-cli \
  EVENWIRE_HUB=$(TARGET)/debug/evenwire-hub EVENWIRE_KEY=file
# The comparison with outside libraries reads what tests/scripts/reference.sh wrote.
REFERENCE := EVENWIRE_REFERENCE_CASES=$(TARGET)/reference-cases.jsonl
DESCRIBED := EVENWIRE_SCHEMATHESIS=$(TARGET)/schemathesis-venv/bin/st
# Files in a bucket are tried against the stand-in that tests/scripts/moto.sh installed.
BUCKET := EVENWIRE_MOTO=$(TARGET)/moto-venv/bin/moto_server
BENCHES := $(TARGET)/release/examples
# What `run` and `hub` build by itself: with all packages at once one lends the other what it lacks.
ALONE := evenwire evenwire-engine evenwire-hub
STEP = @printf '\n== %s\n'

help: ## list the targets
	@sed -nE 's/^([a-z]+):.*## (.*)/make \1|\2/p' $(MAKEFILE_LIST) | awk -F'|' '{ printf "%-12s %s\n", $$1, $$2 }'

# A debug build on purpose: it is there in 3 minutes on two cores, a release build in 9, and the
# difference cannot be felt at the bench, where a meter sends a few readings a second.
run: ## open the window, or without a screen serve the page on this machine; ARGS="…" goes to it
	@$(VERSIONS)
	@if [ -n "$${DISPLAY:-}$${WAYLAND_DISPLAY:-}" ]; then \
	  $(NEED) $(WINDOW_PACKAGES); $(MAKE) page; \
	  echo "Opening the window (a first build takes about 3 minutes)."; \
	  cargo run --locked -p evenwire -- $(ARGS); \
	else \
	  $(NEED) $(SERVE_PACKAGES); $(MAKE) page; \
	  echo "No screen here: serving the page on this machine's own address, printed below."; \
	  cargo run --locked -p evenwire-engine --bin evenwire-cli -- serve $(ARGS); \
	fi

hub: ## run the shop's hub on this machine, and print the address of its office page; ARGS="…" goes to it
	@$(VERSIONS)
	@$(NEED) build-essential pkg-config; $(MAKE) page; \
	echo "Starting the hub (a first build takes about 2 minutes)."; \
	cargo run --locked -p evenwire-hub -- serve $(ARGS)

# The Rust tests come last, so that what is printed last is the count of what ran.
test: ## check, build and test everything, the real window and the page in a browser included
	$(STEP) "Tools and packages"
	$(VERSIONS)
	$(NEED) $(TEST_PACKAGES)
	$(MAKE) ui
	$(STEP) "Rust: format, programs, lints"
	cargo fmt --all --check
	cargo build --locked --workspace
	cargo clippy --locked --workspace --all-targets -- -D warnings
	for package in $(ALONE); do cargo check --locked -p $$package; done
	$(STEP) "The page in a browser"
	$(PROGRAMS) npm --prefix ui run walk
	$(STEP) "What outside libraries say"
	tests/scripts/reference.sh
	tests/scripts/schemathesis.sh
	tests/scripts/moto.sh
	$(STEP) "Rust tests, the window among them"
	rm -rf $(TARGET)/types && mkdir -p $(TARGET)/types
	$(PROGRAMS) $(REFERENCE) $(DESCRIBED) $(BUCKET) TS_RS_EXPORT_DIR=$(TARGET)/types cargo test --locked --workspace 2>&1 | tee $(TARGET)/tests.log
	@diff -r ui/src/generated $(TARGET)/types \
	  || { echo "The page's types are not those of core: run 'make types' and commit them."; exit 1; }
	$(STEP) "Everything above passed; the Rust tests in numbers:"
	@tests/scripts/tally.sh $(TARGET)/tests.log

whole: ## work the three procedures through on the page with all their waits, then one in the window (20 minutes)
	$(NEED) $(TEST_PACKAGES)
	$(MAKE) page
	cargo build --locked --workspace
	$(PROGRAMS) npm --prefix ui run walk -- whole
	$(PROGRAMS) cargo run --locked -p evenwire-tests --example window_whole

# Disks in memory are mounted for it where that is allowed; where not, it says what was not tried. ARGS="--seed N" does
# the same run again, --only kills (full, locked, faults, wounds, clocks, hub,
# hub-kills) one of them.
trials: ## try whether records survive kills, full disks, faults, damage and clocks; fails when anything is lost
	$(NEED) $(SERVE_PACKAGES)
	$(MAKE) page
	cargo build --locked --release -p evenwire-tests --bin trials
	$(TARGET)/release/trials $(ARGS)

ui: $(NODE_MODULES) ## check, test and build the page
	$(STEP) "The page: types, tests, build"
	npm --prefix ui run check
	npm --prefix ui run test
	npm --prefix ui run build

page: $(NODE_MODULES) ## build the page only
	npm --prefix ui run build

$(NODE_MODULES): ui/package.json ui/package-lock.json
	cd ui && npm ci --no-audit --no-fund
	@touch $@

shots: ## take pictures of the page and the window into shots/
	$(NEED) $(TEST_PACKAGES)
	$(MAKE) page
	cargo build --locked --workspace
	EVENWIRE_SHOTS=$(CURDIR)/shots $(PROGRAMS) npm --prefix ui run walk
	EVENWIRE_SHOTS=$(CURDIR)/shots $(PROGRAMS) cargo test --locked --workspace --test 'window*'
	@ls shots

# Release builds: what is measured is what would be installed. Times depend on the machine and on what else it
# does; each stands beside a yardstick measured in the same run, and the ratios are what counts. The sight of a sweep
# is no time: it is the same in every run, and the target fails when it got worse.
bench: ## measure verdict, sweep, storage, search, photos, radio, start and hub, each against the barest thing that could do it (8 minutes once built)
	$(NEED) $(TEST_PACKAGES)
	$(MAKE) page
	cargo build --locked --release -p evenwire -p evenwire-store -p evenwire-engine -p evenwire-hub -p evenwire-tests --bins --examples
	$(STEP) "The verdict"
	$(BENCHES)/verdict_cost
	$(STEP) "What a sweep sees"
	$(BENCHES)/sweep_sight
	$(STEP) "Storage"
	$(BENCHES)/storage_cost
	$(STEP) "Finding one of 100 000 jobs, and starting with them"
	$(BENCHES)/search_times $(BENCHES)/bare_search
	$(STEP) "Forty photos in a job"
	$(BENCHES)/photo_times
	$(STEP) "The radio"
	$(BENCHES)/radio_rates $(BENCHES)/bare_radio
	$(STEP) "Touches"
	$(BENCHES)/touch_times
	$(STEP) "Start"
	$(BENCHES)/start_times $(TARGET)/release/evenwire $(BENCHES)/bare_window
	$(STEP) "A shop's evening at the hub: on the disk, in memory, and in PostgreSQL"
	$(BENCHES)/burst
	TMPDIR=/dev/shm $(BENCHES)/burst
	$(BENCHES)/burst postgres
	$(STEP) "The office finds one of 100 000 jobs"
	$(BENCHES)/office_search $(BENCHES)/bare_search 100000
	$(BENCHES)/office_search $(BENCHES)/bare_search postgres 100000
	$(STEP) "The hub's memory with many devices"
	$(BENCHES)/connected $(TARGET)/release/evenwire-hub 10 100

# Needs 4 GB where TMPDIR is. A line of `bench` with other numbers: devices, entries and photos of each, rounds; jobs.
growth: ## measure how ingest, search and memory of the hub grow to ten times a shop's load (20 minutes once built)
	$(NEED) $(TEST_PACKAGES)
	$(MAKE) page
	cargo build --locked --release -p evenwire-store -p evenwire-hub --bins --examples
	$(STEP) "Ten shops' evening at one hub: on the disk, in memory, and in PostgreSQL"
	$(BENCHES)/burst 150 3000 20 3
	TMPDIR=/dev/shm $(BENCHES)/burst 150 3000 4 3
	$(BENCHES)/burst postgres 150 3000 4 3
	$(STEP) "The office finds one of 1 000 000 jobs"
	$(BENCHES)/office_search $(BENCHES)/bare_search 1000000
	$(BENCHES)/office_search $(BENCHES)/bare_search postgres 1000000
	$(STEP) "The hub's memory with a thousand devices"
	$(BENCHES)/connected $(TARGET)/release/evenwire-hub 1000

types: ## write the page's types anew from core and hub
	rm -rf ui/src/generated
	TS_RS_EXPORT_DIR=$(CURDIR)/ui/src/generated cargo test --locked -p evenwire-core -p evenwire-hub --lib export_bindings

icons: ## draw the icons anew from icons/icon.svg
	$(NEED) chromium imagemagick
	tests/scripts/draw_icons.sh

clean: ## remove everything that was built or downloaded into the project
	cargo clean
	rm -rf ui/dist ui/node_modules shots
