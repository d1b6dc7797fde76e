"""The keys of a case file as a page of the book, from `slenderjet example --keys --json` on standard input."""

import json
import sys

keys = json.load(sys.stdin)["keys"]
print("# Keys of a case file\n")
print("Written by `scripts/book.sh` from the program; do not edit. Quantities are texts with a unit, `\"150 uL/h\"`; a tolerance is written")
print("`\"7.5 mN/m +- 30 %\"`. A key without a note on layouts belongs to all of them.")
section = None
layouts = max((set(key["layouts"]) for key in keys), key=len)


def cell(text):
    return str(text).replace("|", "\\|").replace("\n", " ")


for key in keys:
    own, _, name = key["key"].rpartition(".")
    if own != section:
        section = own
        print(f"\n## {'[' + own + ']' if own else 'Outside of sections'}\n")
        print("| key | takes | what it is | left out | example |\n| --- | --- | --- | --- | --- |")
    about = key["about"]
    if set(key["layouts"]) != layouts:
        about += f" ({', '.join(key['layouts'])} only)"
    print(f"| `{name}` | {cell(key['takes'])} | {cell(about)} | {cell(key['left_out'])} | `{cell(key['example'])}` |")
