#!/usr/bin/env bash
# Cost against cells and drops, memory against drops: dated records in benches/records, table in docs/speed.md, docs/scaling.svg.
# Wants cargo, python3 with venv and the package registries (for matplotlib); about four minutes.
set -euo pipefail
cd "$(dirname "$0")/.."
env=target/integrators
[ -x $env/bin/python ] || python3 -m venv $env
$env/bin/pip install --quiet --disable-pip-version-check -r benches/integrators/requirements.txt
measure=$(bash benches/tools/measure.sh)
CARGO_INCREMENTAL=0 cargo build --release --locked --quiet
$env/bin/python benches/tools/scaling.py target/scaling.png "$measure" target/release/slenderjet
echo "target/scaling.png is the figure to look at"
