#!/usr/bin/env bash
# Builds the bench program `measure` and prints where it is.
set -euo pipefail
cd "$(dirname "$0")/../.."
cargo bench --locked --bench measure --no-run --message-format=json 2>/dev/null |
  sed -n 's/.*"executable":"\([^"]*measure-[^"]*\)".*/\1/p' | tail -1
