#!/usr/bin/env bash
# Draws the README's gallery from the example cases: four figures and a still of the report, into docs/gallery.
# Wants the built program (cargo build --release) and, for the still, chromium; everything else is made afresh.
set -euo pipefail
cd "$(dirname "$0")/.."
program=$PWD/target/release/slenderjet
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
gallery=$PWD/docs/gallery
mkdir -p "$gallery"
cd "$work"

for name in coflow counterflow jet; do
  "$program" example "$name" -o "$name.toml" -q
  "$program" run "$name.toml" -o "$name.h5" -q
done
"$program" map coflow.toml --vary 'inner.flow=15..300 uL/h/7log' --vary 'outer.flow=5..50 mL/h/7log' \
  --drops 5 --border -o map.h5 -q

"$program" figure strip coflow.h5 -o "$gallery/strip.png" -q
"$program" figure spacetime counterflow.h5 --width 120 -o "$gallery/spacetime.png" -q
"$program" figure --panels neck,sizes jet.h5 -o "$gallery/panels.png" -q
"$program" figure map map.h5 -o "$gallery/map.png" -q

# The two-panel figure of the README, to see that its command works.
"$program" figure --panels strip,neck coflow.h5 -o two-panels.pdf -q

"$program" report coflow.h5 -o report.html -q
if command -v chromium >/dev/null; then
  chromium --headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking \
    --disable-component-update --disable-sync --user-data-dir="$work/profile" --hide-scrollbars \
    --window-size=1100,900 --virtual-time-budget=2000 --force-prefers-reduced-motion --screenshot="$gallery/report.png" "file://$work/report.html#snapshot=390" 2>/dev/null
else
  echo "no chromium: the still of the report stays as it is"
fi
ls -l "$gallery"
