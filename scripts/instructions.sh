#!/usr/bin/env bash
# Counts instructions of kernels and whole cases under callgrind, which other programs of the machine do not disturb: a dated
# record in benches/records and the table in docs/speed.md. Wants cargo, valgrind and python3; about five minutes.
set -euo pipefail
cd "$(dirname "$0")/.."
command -v valgrind >/dev/null || { echo "valgrind is missing (apt-get install valgrind)" >&2; exit 1; }
measure=$(bash benches/tools/measure.sh)
python3 benches/tools/instructions.py "$measure"
