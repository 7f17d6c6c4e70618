#!/usr/bin/env bash
# Writes the cases that outside libraries answered, and prints the name of the file:
#   EVENWIRE_REFERENCE_CASES=$(tests/scripts/reference.sh) cargo test -p evenwire-core --test reference_differential
# The libraries live beside what is built; both are made anew when what they come from has changed.
set -euo pipefail
cd "$(dirname "$0")/../.."

venv=$(tests/scripts/python.sh reference-venv tests/reference/requirements.txt)
cases=$(dirname "$venv")/reference-cases.jsonl

# Named by what they come from: an older file never passes for the new one.
made_from=$(cat tests/reference/requirements.txt tests/reference/cases.py | cksum)
if [ ! -f "$cases" ] || [ "$(cat "$cases.from" 2>/dev/null)" != "$made_from" ]; then
  rm -f "$cases.from"
  "$venv/bin/python" -I tests/reference/cases.py >"$cases.part"
  mv "$cases.part" "$cases"
  echo "$made_from" >"$cases.from"
fi
echo "$cases"
