#!/usr/bin/env bash
# Prints the folder of a python of its own with exactly the packages a file lists, and nothing beside them:
#   venv=$(tests/scripts/python.sh NAME tests/reference/LIST.txt)
# It lives beside what is built, under that name, and is made anew when the list has changed.
set -euo pipefail
cd "$(dirname "$0")/../.."

target=${CARGO_TARGET_DIR:-target}
mkdir -p "$target"
venv=$(cd "$target" && pwd)/$1
wanted=$2

if ! cmp -s "$wanted" "$venv/installed.txt"; then
  tests/scripts/need.sh python3-venv >&2
  rm -rf "$venv"
  python3 -m venv "$venv"
  "$venv/bin/pip" install --quiet --disable-pip-version-check --no-deps --only-binary :all: -r "$wanted" >&2
  cp "$wanted" "$venv/installed.txt"
fi
echo "$venv"
