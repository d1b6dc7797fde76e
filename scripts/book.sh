#!/usr/bin/env bash
# Writes the book's pages that come from the program (keys, answers) and follows every link. `--check` writes nothing and fails where one
# of them is stale.
set -euo pipefail
cd "$(dirname "$0")/.."
program=target/release/slenderjet
pages=$(mktemp -d)
trap 'rm -r "$pages"' EXIT
"$program" example --keys --json | python3 scripts/keys_page.py >"$pages/keys.md"
python3 scripts/answers_page.py "$program" >"$pages/answers.md"
for page in keys answers; do
  if [ "${1:-}" = --check ]; then
    diff -u "docs/book/$page.md" "$pages/$page.md" || { echo "docs/book/$page.md is stale: run scripts/book.sh" >&2; exit 1; }
  else
    cp "$pages/$page.md" "docs/book/$page.md"
  fi
done
python3 scripts/check_links.py README.md DEVELOPERS.md CONTRIBUTING.md SECURITY.md python/README.md docs/book/*.md
