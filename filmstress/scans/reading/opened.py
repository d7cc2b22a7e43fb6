"""A scan file opened: what the system says of it, and what is no scan at all."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from contextlib import contextmanager

from filmstress.errors import ScanError
from filmstress.scans.reading.source import Source, open_source

# First bytes of files that are sometimes taken for a scan, and what they are.
_FOREIGN = (
    (b"\xd0\xcf\x11\xe0", "a spreadsheet or document"),
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"BM", "a picture (BMP)"),
    (b"II*\0", "a picture (TIFF)"),
    (b"MM\0*", "a picture (TIFF)"),
    (b"%PDF", "a PDF document"),
    (b"\x89HDF", "an HDF5 file"),
    (b"BZh", "a bzip2 archive"),
    (b"\xfd7zXZ", "an xz archive"),
    (b"7z\xbc\xaf", "a 7-zip archive"),
    (b"\x28\xb5\x2f\xfd", "a zstandard archive"),
    (b"\x7fELF", "a program"),
    (b"\x93NUMPY", "a numpy array"),
    (b"SQLite format", "a database"),
    (b"<?xml", "an XML file"),
    (b"<!DOCTYPE", "an HTML page"),
    (b"<html", "an HTML page"),
)


@contextmanager
def opened(path: str) -> Iterator[Source]:
    """Pass over a file once; what the system says of it is told as a `ScanError`.

    Raises
    ------
    ScanError
        As `filmstress.scans.reading.source.open_source`, or if it cannot be read.
    """
    try:
        with open_source(path) as source:
            yield source
    except FileNotFoundError as error:
        raise ScanError(
            "no such file",
            where=path,
            hint="check the name; in a lot file, paths start from its folder",
        ) from error
    except (OSError, EOFError, zlib.error) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ScanError(f"cannot be read ({reason.lower()})", where=path) from error
    except MemoryError as error:
        raise ScanError(
            "is too large for the memory of this machine", where=path, hint="thin the scan out"
        ) from error


def check_not_foreign(source: Source) -> None:
    """Raise if a file is of a kind that is sometimes taken for a scan."""
    for magic, what in _FOREIGN:
        if source.head.startswith(magic):
            raise ScanError(
                f"is {what}, not a scan",
                where=source.name,
                hint="export the scan as delimited text",
            )
