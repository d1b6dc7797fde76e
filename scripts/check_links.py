"""Follows the relative links of Markdown files: the file must be there, and the heading that an anchor names."""

import pathlib
import re
import sys

LINK = re.compile(r"\]\(([^)\s]+)\)")
HEADING = re.compile(r"^#+\s+(.*)$", re.M)


def anchors(text):
    return {re.sub(r"[^\w\- ]", "", h.strip().lower()).replace(" ", "-") for h in HEADING.findall(text)}


wrong, seen = [], 0
for name in sys.argv[1:]:
    path = pathlib.Path(name)
    text = re.sub(r"^```.*?^```", "", path.read_text(encoding="utf-8"), flags=re.M | re.S)
    for target in LINK.findall(text):
        if re.match(r"[a-z]+:", target):
            continue
        seen += 1
        file, _, anchor = target.partition("#")
        aim = path if not file else (path.parent / file)
        if not aim.exists():
            wrong.append(f"{name}: {target}: no such file")
        elif anchor and aim.suffix == ".md" and anchor not in anchors(aim.read_text(encoding="utf-8")):
            wrong.append(f"{name}: {target}: no such heading")
if wrong or seen == 0:
    sys.exit("\n".join(wrong) or "no link was found to follow")
print(f"{seen} links lead somewhere")
