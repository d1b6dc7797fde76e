#!/usr/bin/env bash
# Writes the book's pages that come from the program (keys, answers), follows every link and builds the book for a browser:
# target/book/index.html. `--check` writes no page and fails where one of them is stale.
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
python3 scripts/check_links.py README.md DEVELOPERS.md CONTRIBUTING.md SECURITY.md python/README.md docs/*.md docs/book/*.md
tools=target/book-tools
[ -x "$tools/bin/mkdocs" ] || python3 -m venv "$tools"
"$tools/bin/pip" install --quiet --disable-pip-version-check 'mkdocs>=1.6,<2' 'latex2mathml>=3.77,<4' 'pymdown-extensions>=10'
"$tools/bin/mkdocs" build --strict --quiet
echo "the book: target/book/index.html"
