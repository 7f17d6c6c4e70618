#!/usr/bin/env bash
# Prints the name of the program that asks a server whatever its description allows:
#   EVENWIRE_SCHEMATHESIS=$(tests/scripts/schemathesis.sh) cargo test -p evenwire-hub --test description
set -euo pipefail
cd "$(dirname "$0")/../.."

echo "$(tests/scripts/python.sh schemathesis-venv tests/reference/schemathesis.txt)/bin/st"
