"""Hooks of mkdocs for the book: equations become MathML, which browsers draw without a script or a network, and links to files of the
repository that are no pages of the book become their names."""

import re

from latex2mathml.converter import convert

MATH = re.compile(r'<(span|div) class="arithmatex">\\[(\[](.*?)\\[)\]]</\1>', re.S)
LINK = re.compile(r"(?<!!)\[([^\]]+)\]\(([^)#\s]+)(#[^)\s]*)?\)")
ENTITIES = (("&lt;", "<"), ("&gt;", ">"), ("&amp;", "&"))


def on_page_markdown(markdown, page, config, files):
    """Links that lead out of docs/ keep their words; where those do not name the file, its path stands behind them."""

    def outward(found):
        words, target = found[1], found[2]
        if not target.startswith("../") or page.file.src_uri.count("/") >= target.count("../"):
            return found[0]
        path = target.replace("../", "")
        return words if path in words else f"{words} (`{path}`)"

    return LINK.sub(outward, markdown)


def on_page_content(html, page, config, files):
    def drawn(found):
        latex = found[2]
        for entity, letter in ENTITIES:
            latex = latex.replace(entity, letter)
        return convert(latex, display="block" if found[1] == "div" else "inline")

    return MATH.sub(drawn, html)
