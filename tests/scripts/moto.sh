#!/usr/bin/env bash
# Prints the name of the program that stands in for an object store:
#   EVENWIRE_MOTO=$(tests/scripts/moto.sh) cargo test -p evenwire-hub --test bucket
set -euo pipefail
cd "$(dirname "$0")/../.."

echo "$(tests/scripts/python.sh moto-venv tests/reference/moto.txt)/bin/moto_server"
