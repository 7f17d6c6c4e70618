#!/usr/bin/env bash
# Stops with a sentence that says what to do when a tool that has to be there is missing or too old. The Rust that is
# needed stands in Cargo.toml; the Node that is needed is the one the page's build tool asks for.
#   tests/scripts/versions.sh
set -euo pipefail
cd "$(dirname "$0")/../.."

rust=$(sed -nE 's/^rust-version = "(.*)"/\1/p' Cargo.toml)
node=20.19

# at_least WANTED FOUND: both of them numbers with dots
at_least() { [ "$(printf '%s\n%s\n' "$1" "$2" | sort -V | head -n 1)" = "$1" ]; }

# need NAME WANTED FOUND REMEDY
need() {
  if [ -z "$3" ]; then
    echo "$1 is not here; version $2 or newer is needed. $4" >&2
    exit 1
  fi
  if ! at_least "$2" "$3"; then
    echo "$1 $3 is too old; version $2 or newer is needed. $4" >&2
    exit 1
  fi
}

# The first number with dots that a program gives as its version, or nothing.
version() { command -v "$1" >/dev/null && { "$1" --version 2>/dev/null || true; } | grep -oE -m 1 '[0-9]+(\.[0-9]+)+' || true; }

install_rust="Install it with rustup (https://rustup.rs), or run 'rustup update stable' where it is."
need Rust "$rust" "$(version rustc)" "$install_rust"
need Cargo "$rust" "$(version cargo)" "$install_rust"
need Node.js "$node" "$(version node)" "Install it from https://nodejs.org, or with your version manager."
need npm 7 "$(version npm)" "It comes with Node.js."
