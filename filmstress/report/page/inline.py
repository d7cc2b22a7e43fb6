"""Figures inside a page: SVG without anything that could clash, load or surprise."""

from __future__ import annotations

import io
import re
import warnings
from xml.etree import ElementTree

from markupsafe import Markup
from matplotlib.figure import Figure

from filmstress.report.figures.style import figure_style
from filmstress.report.words import printable

_NUMBER = re.compile(r"-?\d+\.\d+")
_REFERENCE = re.compile(r"url\(#([^)]+)\)")
_FAMILY = re.compile(r"font-family:[^;]*;? ?")
# Some versions write size, weight and family in one.
_FONT = re.compile(r"font: ((?:\w+ )*)([\d.]+px) [^;]+")
_DROPPED = {"metadata", "style"}
# Far longer than any sentence of ours.
_LONGEST = 600


def inline_svg(figure: Figure, *, key: str, title: str, told: str) -> Markup:
    """A figure as an SVG element to stand in an HTML page.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
    key : str
        Put before every id of the figure, so that no two of a page are alike; of letters, digits
        and hyphens.
    title, told : str
        What the figure is and what is seen in it, for those who do not see it.

    Returns
    -------
    Markup
        Safe: every text in it is escaped, and no element or attribute comes from data.
    """
    drawn = io.BytesIO()
    with figure_style(), warnings.catch_warnings():
        # The page has other fonts than the one that measured the words.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        figure.savefig(drawn, format="svg", metadata={"Date": None, "Creator": None})
    root = ElementTree.fromstring(drawn.getvalue())
    _plain(root)
    referred = set(_referred(root))
    for node in root.iter():
        _mend(node, key, referred)
    _flatten(root)
    width, height = root.get("viewBox", "0 0 1 1").split()[2:]
    root.attrib = {
        "viewBox": f"0 0 {width} {height}",
        "role": "img",
        "aria-labelledby": f"{key}-title {key}-told",
    }
    for place, (tag, text) in enumerate((("title", title), ("desc", told))):
        node = ElementTree.Element(tag, id=f"{key}-{'title' if tag == 'title' else 'told'}")
        node.text = printable(text, _LONGEST)
        root.insert(place, node)
    return Markup(ElementTree.tostring(root, encoding="unicode"))


def _plain(root: ElementTree.Element) -> None:
    """Names without their name spaces, as HTML wants them; no metadata, no style sheet."""
    for node in root.iter():
        node.tag = _local(node.tag)
        node.attrib = {_local(name): value for name, value in node.attrib.items()}
        for child in [child for child in node if _local(child.tag) in _DROPPED]:
            node.remove(child)


def _flatten(node: ElementTree.Element) -> None:
    """Groups that say nothing give way to what is in them; so do line breaks between elements."""
    children: list[ElementTree.Element] = []
    for child in node:
        _flatten(child)
        children += list(child) if child.tag == "g" and not child.attrib else [child]
    node[:] = children
    if children:
        node.text = None
    for child in children:
        child.tail = None


def _local(name: str) -> str:
    return name.rpartition("}")[2]


def _referred(root: ElementTree.Element) -> list[str]:
    found = []
    for node in root.iter():
        for name, value in node.attrib.items():
            found += _REFERENCE.findall(value)
            if name == "href":
                found.append(value.removeprefix("#"))
    return found


def _mend(node: ElementTree.Element, key: str, referred: set[str]) -> None:
    """Ids of this figure's own, and only where they are used; heights to a hundredth of a point."""
    for name, value in list(node.attrib.items()):
        if name == "id" and value not in referred:
            del node.attrib[name]
        elif name == "id":
            node.set(name, f"{key}-{value}")
        elif name == "href":
            node.set(name, f"#{key}-{value.removeprefix('#')}")
        elif name == "d":
            node.set(name, " ".join(_NUMBER.sub(_short, value).split()))
        elif name == "style":
            # The page's own type, in the size and weight of the figure.
            value = _FAMILY.sub("", _FONT.sub(_font, value))
            node.set(name, _REFERENCE.sub(rf"url(#{key}-\1)", value))
        elif "url(#" in value:
            node.set(name, _REFERENCE.sub(rf"url(#{key}-\1)", value))


def _short(match: re.Match[str]) -> str:
    return f"{float(match.group()):.2f}".rstrip("0").rstrip(".")


def _font(match: re.Match[str]) -> str:
    words = match.group(1).split()
    style = "; font-style: italic" if "italic" in words else ""
    weight = "; font-weight: bold" if {"bold", "700"} & set(words) else ""
    return f"font-size: {match.group(2)}{style}{weight}"
