#!/usr/bin/env bash
# Writes docs/book/keys.md from the program and follows every link of the book. `--check` writes nothing and fails where the page is stale.
set -euo pipefail
cd "$(dirname "$0")/.."
program=target/release/slenderjet
page=$(mktemp)
trap 'rm -f "$page"' EXIT
"$program" example --keys --json | python3 scripts/keys_page.py >"$page"
if [ "${1:-}" = --check ]; then
  diff -u docs/book/keys.md "$page" || { echo "docs/book/keys.md is stale: run scripts/book.sh" >&2; exit 1; }
else
  cp "$page" docs/book/keys.md
fi
python3 scripts/check_links.py README.md DEVELOPERS.md CONTRIBUTING.md SECURITY.md python/README.md docs/book/*.md
