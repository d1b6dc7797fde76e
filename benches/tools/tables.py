"""Tables, and the parts of a page that a script writes."""


def table(header, rows):
    lines = ["| " + " | ".join(header) + " |", "| " + " | ".join("---" for _ in header) + " |"]
    return "\n".join(lines + ["| " + " | ".join(row) + " |" for row in rows]) + "\n"


def replace(path, part, text):
    """Put `text` between the lines that mark a part of a page."""
    opening, closing = f"<!-- {part}: written by scripts/{part}.sh -->\n", f"<!-- end of {part} -->"
    with open(path) as file:
        page = file.read()
    before, rest = page.split(opening)
    _, after = rest.split(closing)
    with open(path, "w") as file:
        file.write(before + opening + text + closing + after)
