#!/usr/bin/env bash
# Thousands of random cases over all layouts (tests/model/random_cases.rs): no panic, no NaN, volume kept, every end named.
# Usage: scripts/random_cases.sh LOG.jsonl [CASES] [SEED] [STEPS]; the same command again goes on where it was broken off.
set -euo pipefail
cd "$(dirname "$0")/.."
log=$(realpath -m "${1:?name a log file}")
export SLENDERJET_RANDOM_LOG="$log" SLENDERJET_RANDOM_CASES="${2:-10000}" SLENDERJET_RANDOM_SEED="${3:-1}"
export SLENDERJET_RANDOM_STEPS="${4:-400000}" SLENDERJET_RANDOM_HEAVY="${SLENDERJET_RANDOM_HEAVY:-1}"
exec cargo test --release --test model random_cases -- --nocapture
