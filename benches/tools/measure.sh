#!/usr/bin/env bash
# Builds the bench program `measure` and prints where it is. Not incrementally, as a user would: an incremental build cuts the
# program into more parts and executes other instructions (1 % were seen).
set -euo pipefail
cd "$(dirname "$0")/../.."
export CARGO_INCREMENTAL=0
cargo bench --locked --bench measure --no-run --message-format=json |
  sed -n 's/.*"executable":"\([^"]*measure-[^"]*\)".*/\1/p' | tail -1
