#!/usr/bin/env bash
# All records of speed, one after the other: instructions, integrators, scaling. About a quarter of an hour; a quiet machine is better.
set -euo pipefail
cd "$(dirname "$0")"
for part in instructions integrators scaling; do
  echo "== $part"
  bash $part.sh
done
