#!/usr/bin/env bash
# Writes the cases that outside libraries answered, and prints the name of the file:
#   EVENWIRE_REFERENCE_CASES=$(tests/scripts/reference.sh) cargo test -p evenwire-core --test reference_differential
# The libraries live beside what is built; both are made anew when what they come from has changed.
set -euo pipefail
cd "$(dirname "$0")/../.."

target=${CARGO_TARGET_DIR:-target}
mkdir -p "$target"
target=$(cd "$target" && pwd)
wanted=tests/reference/requirements.txt
venv=$target/reference-venv
cases=$target/reference-cases.jsonl

if ! cmp -s "$wanted" "$venv/installed.txt"; then
  tests/scripts/need.sh python3-venv >&2
  rm -rf "$venv"
  python3 -m venv "$venv"
  "$venv/bin/pip" install --quiet --disable-pip-version-check --no-deps --only-binary :all: -r "$wanted" >&2
  cp "$wanted" "$venv/installed.txt"
fi

# Named by what they come from: an older file never passes for the new one.
made_from=$(cat "$wanted" tests/reference/cases.py | cksum)
if [ ! -f "$cases" ] || [ "$(cat "$cases.from" 2>/dev/null)" != "$made_from" ]; then
  rm -f "$cases.from"
  "$venv/bin/python" -I tests/reference/cases.py >"$cases.part"
  mv "$cases.part" "$cases"
  echo "$made_from" >"$cases.from"
fi
echo "$cases"
