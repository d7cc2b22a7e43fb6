"""Reading a page: its elements, headings, ids, texts and numbers."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "br", "link", "img", "input", "hr"}


@dataclass
class Element:
    tag: str
    attributes: dict[str, str | None]
    children: list[Element] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """All its words, in order of appearance."""
        return " ".join("".join(self.texts).split())

    def all(self, *tags: str) -> list[Element]:
        found = [self] if self.tag in tags else []
        return found + [one for child in self.children for one in child.all(*tags)]

    def every(self) -> list[Element]:
        return [self, *(one for child in self.children for one in child.every())]

    def of_class(self, name: str) -> list[Element]:
        return [one for one in self.every() if name in (one.attributes.get("class") or "").split()]


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("", {})
        self.open = [self.root]
        self.others: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert len({name for name, _ in attrs}) == len(attrs), (tag, attrs)
        element = Element(tag, dict(attrs))
        self.open[-1].children.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].children.append(Element(tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open[-1].tag == tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        for element in self.open:
            element.texts.append(data)

    def handle_comment(self, data: str) -> None:
        self.others.append(data)

    def handle_pi(self, data: str) -> None:
        self.others.append(data)

    def unknown_decl(self, data: str) -> None:
        self.others.append(data)


def read(page: str) -> Element:
    """The page as a tree; every element is closed where it should be."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    assert reader.open == [reader.root], [one.tag for one in reader.open]
    assert not reader.others
    return reader.root


def skeleton(element: Element) -> list[tuple[str, tuple[str, ...]]]:
    """Elements and the names of their attributes, whatever the texts are."""
    return [(one.tag, tuple(one.attributes)) for one in element.every()]
