"""One line of a text file: is it a comment, and what are its cells."""

from __future__ import annotations

import csv
import re

TAB, SEMICOLON, COMMA, BLANKS = "\t", ";", ",", None
# Best first: a tab or semicolon is hardly ever anything but a delimiter.
DELIMITERS: tuple[str | None, ...] = (TAB, SEMICOLON, COMMA, BLANKS)

# First signs of a comment; also "", so that a blank line has one.
COMMENT_SIGNS = ("#", "%", "!", "/", ";", "")
_COMMENT_MARKS = ("#", "%", "!", "//")
# Not str.split(): a no-break or thin blank stands within numbers, not between them.
_BLANK_RUN = re.compile("[ \t]+")


def is_comment(line: str, delimiter: str | None) -> bool:
    """Whether a line is a comment (``#``, ``%``, ``!``, ``//``; ``;`` where it is no delimiter)."""
    text = line.lstrip(" \t")
    return text.startswith(_COMMENT_MARKS) or (delimiter != SEMICOLON and text.startswith(";"))


def without_comment_mark(line: str) -> str:
    """Text of a line without the comment marks before it."""
    return line.strip().lstrip("#%!;/").strip()


def split(line: str, delimiter: str | None) -> list[str]:
    """Cells of a line, without quotes and blanks around them."""
    if '"' in line:
        if delimiter is None:
            line = line.replace('"', " ")
        else:
            # A quote that is never closed takes the rest of the line, not of the file.
            try:
                cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
            except csv.Error:
                cells = line.split(delimiter)
            return [cell.strip() for cell in cells]
    if delimiter is None:
        text = line.strip(" \t\n")
        return _BLANK_RUN.split(text) if text else []
    return [cell.strip() for cell in line.split(delimiter)]


def row_cells(line: str, delimiter: str | None, count: int) -> list[str]:
    """Cells of a row of ``count`` cells; empty ones after trailing delimiters do not count."""
    cells = split(line, delimiter)
    while len(cells) > count and not cells[-1]:
        cells.pop()
    return cells


def spoken(delimiter: str | None) -> str:
    """How messages call a delimiter."""
    names = {TAB: "tab", SEMICOLON: "semicolon", COMMA: "comma", BLANKS: "blank"}
    return names[delimiter]
