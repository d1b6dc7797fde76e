#!/usr/bin/env bash
# Known faults of the crates in our lock files.
#
#   scripts/advisories.sh FOLDER   asks a clone of the RustSec advisory database in FOLDER about every crate of both lock files, by
#                                  cargo-deny, and notes in docs/advisories.txt what was asked of which state of the database
#   scripts/advisories.sh --check  for CI, without a database: fails where a lock file holds a crate that was not asked about, and
#                                  where cargo-deny does not find an invented advisory
set -euo pipefail
cd "$(dirname "$0")/.."
noted=docs/advisories.txt
manifests=(Cargo.toml python/Cargo.toml)
deny=.venv/bin/cargo-deny
[ -x "$deny" ] || deny=cargo-deny
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# Name and version of every crate from a registry.
crates() {
  awk -F'"' '/^name = / { name = $2 } /^version = / { version = $2 } /^source = "registry/ { print name, version }' \
    Cargo.lock python/Cargo.lock | LC_ALL=C sort -u
}

# ask FOLDER MANIFEST: cargo-deny with deny.toml. It clones its database from an address; git takes that from the folder.
ask() {
  local address=https://advisories.invalid/database
  rm -rf "$work/databases"
  awk -v path="$work/databases" -v address="$address" '{ print } /^\[advisories\]$/ {
    printf "db-path = \"%s\"\ndb-urls = [\"%s\"]\ngit-fetch-with-cli = true\n", path, address }' deny.toml >"$work/deny.toml"
  GIT_CONFIG_COUNT=1 GIT_CONFIG_KEY_0="url.file://$1.insteadOf" GIT_CONFIG_VALUE_0="$address" \
    "$deny" --locked --manifest-path "$2" --config "$work/deny.toml" check -A advisory-not-detected advisories
}

# A database of one invented advisory: libm is at fault below the version given.
invent() {
  rm -rf "$work/invented"
  mkdir -p "$work/invented/crates/libm"
  printf '%s\n' '```toml' '[advisory]' 'id = "RUSTSEC-2026-99999"' 'package = "libm"' 'date = "2026-01-01"' '[versions]' \
    "patched = [\">= $1\"]" '```' '' '# Invented' '' 'To see that it is found.' >"$work/invented/crates/libm/RUSTSEC-2026-99999.md"
  git -C "$work/invented" init -q -b main
  git -C "$work/invented" add -A
  git -C "$work/invented" -c user.name=invented -c user.email=invented@invalid commit -q -m invented
}

case "${1:-}" in
--check)
  if ! missing=$(comm -23 <(crates) <(grep -v '^#' "$noted" | LC_ALL=C sort -u)) || [ -n "$missing" ]; then
    printf 'not asked about in the advisory database (scripts/advisories.sh FOLDER):\n%s\n' "$missing" >&2
    exit 1
  fi
  invent 999.0.0
  if said=$(ask "$work/invented" Cargo.toml 2>&1) || ! grep -q RUSTSEC-2026-99999 <<<"$said"; then
    printf 'an invented advisory was not found:\n%s\n' "$said" >&2
    exit 1
  fi
  invent 0.0.1
  ask "$work/invented" Cargo.toml >"$work/said" 2>&1 || { cat "$work/said" >&2; exit 1; }
  sed -n 's/^# //p' "$noted"
  ;;
"" | -*)
  sed -n '2,/^set/{/^#/p}' "$0" >&2
  exit 2
  ;;
*)
  folder=$(cd "$1" && pwd)
  for manifest in "${manifests[@]}"; do ask "$folder" "$manifest"; done
  {
    echo "# Crates of Cargo.lock and python/Cargo.lock, asked about with cargo-deny on $(date -u +%F) in the RustSec advisory"
    echo "# database as of $(git -C "$folder" show -s --format=%cs HEAD) (commit $(git -C "$folder" rev-parse --short=12 HEAD)): none has a known fault; what is ignored, and why, stands in deny.toml."
    crates
  } >"$noted"
  ;;
esac
