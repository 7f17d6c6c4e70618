#!/usr/bin/env bash
# Installs those of the named Debian packages that are missing; says nothing when none is.
#   tests/scripts/need.sh PACKAGE...
set -euo pipefail

if ! command -v dpkg-query >/dev/null; then
  echo "This is no Debian: going on as if these were there, by whatever name: $*" >&2
  exit 0
fi

missing=()
for package in "$@"; do
  state=$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null || true)
  [ "$state" = installed ] || missing+=("$package")
done
[ "${#missing[@]}" -gt 0 ] || exit 0

as_root=(env)
if [ "$(id -u)" -ne 0 ]; then
  if ! command -v sudo >/dev/null; then
    echo "Missing: ${missing[*]}. Install them as root, or install sudo." >&2
    exit 1
  fi
  as_root=(sudo env)
fi
echo "Installing ${missing[*]}"
"${as_root[@]}" apt-get update -qq
"${as_root[@]}" DEBIAN_FRONTEND=noninteractive apt-get install -y -qq "${missing[@]}" >/dev/null
