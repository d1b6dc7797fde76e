#!/usr/bin/env bash
# slenderjet beside general-purpose integrators on the same equations at equal error: builds, runs, writes docs/integrators.*
# Wants cargo, python3 with venv and the package registries; set CMAKE as for the program itself. About ten minutes.
set -euo pipefail
cd "$(dirname "$0")/.."
here=benches/integrators
env=target/integrators
[ -x $env/bin/python ] || python3 -m venv $env
$env/bin/pip install --quiet --disable-pip-version-check -r $here/requirements.txt
measure=$(bash benches/tools/measure.sh)
CARGO_INCREMENTAL=0 CARGO_TARGET_DIR=target/integrators-diffsol cargo build --release --locked --quiet --manifest-path $here/diffsol/Cargo.toml
export NUMBA_CACHE_DIR=$PWD/target/numba OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 MKL_NUM_THREADS=1
$env/bin/python $here/compare.py "$measure" target/integrators-diffsol/release/integrators-diffsol docs/integrators.csv
$env/bin/python $here/show.py docs target/integrators.png
echo "docs/integrators.md, .csv, .svg are written; target/integrators.png is the figure to look at"
