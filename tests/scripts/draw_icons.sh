#!/usr/bin/env bash
# Draws the PNG icons from icons/icon.svg with Chromium. Run it after changing the drawing:
#   tests/scripts/draw_icons.sh
set -euo pipefail
cd "$(dirname "$0")/../../icons"
profile=$(mktemp -d)
trap 'rm -rf "$profile"' EXIT

draw() { # file, pixels
  # The page is the drawing alone on a clear ground, so that the corners stay transparent.
  printf '<style>body{margin:0}svg{display:block;width:%spx;height:%spx}</style>' "$2" "$2" >"$profile/page.html"
  cat icon.svg >>"$profile/page.html"
  # Chromium makes no window as small as an icon: draw in a corner of a larger one and cut it out.
  chromium --headless=new --no-sandbox --disable-gpu --disable-background-networking --hide-scrollbars \
    --user-data-dir="$profile/chromium" --default-background-color=00000000 --window-size=512,512 \
    --screenshot="$profile/shot.png" "file://$profile/page.html" >/dev/null 2>&1
  convert "$profile/shot.png" -crop "$2x$2+0+0" +repage -strip "PNG32:$1"
}

draw icon.png 512
draw 128x128.png 128
draw 32x32.png 32
identify ./*.png
