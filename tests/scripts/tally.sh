#!/usr/bin/env bash
# Adds up what cargo test printed into FILE; fails when something failed or nothing ran.
#   tests/scripts/tally.sh FILE
set -euo pipefail
awk '
  /^test result: / { passed += $4; failed += $6; skipped += $8 }
  END {
    printf "%d passed, %d failed, %d skipped\n", passed, failed, skipped
    exit !(passed > 0 && failed == 0)
  }
' "$1"
