"""The bytes of a scan file: a file, gzip or standard input; their hash; lines of text from them."""

from __future__ import annotations

import gzip
import hashlib
import io
import os
import stat
import sys
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import IO, BinaryIO, TextIO, cast

from filmstress.errors import ScanError
from filmstress.scans.reading.encoding import codec
from filmstress.scans.reading.numerals import shown
from filmstress.scans.reading.survey import BLOCK_BYTES, Survey, check_size, survey_bytes

STDIN = "-"
_SPOOL_BYTES = 64 << 20
_GZIP_MAGIC = b"\x1f\x8b"
# numpy chooses a decompressor by these endings, whatever the file holds.
_ENDINGS_NUMPY_UNPACKS = (".gz", ".bz2", ".xz", ".lzma")


@dataclass(frozen=True, slots=True)
class Source:
    """A scan file that has been passed over once.

    Attributes
    ----------
    path : str
        As the user gave it.
    name : str
        What messages call it.
    sha256 : str
        Of the bytes as they came.
    packed : bool
        Whether they are gzip.
    head : bytes
        The first 32 KiB, inflated.
    whole : bool
        Whether the head is everything.
    size : int
        Bytes, inflated.
    lines : int
        Number of line ends, of text.
    nul : bool
        Whether there are NUL bytes, which no 8-bit text has.
    """

    path: str
    name: str
    sha256: str
    packed: bool
    head: bytes
    whole: bool
    size: int
    lines: int
    nul: bool
    _stamp: tuple[int, ...]
    _spool: IO[bytes] | None

    @property
    def numpy_path(self) -> str | None:
        """Absolute path that numpy may open by itself; None where it has to be fed."""
        if self.packed or self._spool or self.path.endswith(_ENDINGS_NUMPY_UNPACKS):
            return None
        return os.path.abspath(self.path)  # noqa: PTH100 (three times faster, once per file)

    @contextmanager
    def binary(self) -> Iterator[BinaryIO]:
        """The bytes from the start, inflated."""
        with _raw(self.path, self._spool) as raw, _inflated(raw, self.packed) as stream:
            yield stream

    @contextmanager
    def text(self, encoding: str) -> Iterator[TextIO]:
        """Lines of text from the start; CR, LF and CRLF all become LF."""
        name, errors = codec(encoding)
        with self.binary() as stream:
            wrapper = io.TextIOWrapper(stream, name, errors=errors, newline=None)
            try:
                yield wrapper
            finally:
                wrapper.detach()

    def check_unchanged(self) -> None:
        """Raise if the file was written to since it was hashed."""
        if self._spool is None and _stamp(os.stat(self.path)) != self._stamp:  # noqa: PTH116
            raise ScanError(
                "changed while it was being read", where=self.name, hint="wait, then run it again"
            )


@contextmanager
def open_source(path: str) -> Iterator[Source]:
    """Pass over a file once and give what can be known of it.

    Raises
    ------
    ScanError
        Not a regular file, empty, damaged, larger than 2 GiB or 50 million lines, or with a line
        of more than a mebibyte.
    OSError
        As the operating system raises it.
    """
    name = "standard input" if path == STDIN else path
    if path == STDIN:
        spool = _spooled(name)
    else:
        spool = None
        _check_regular(path, name)
    try:
        digest = hashlib.sha256()
        with _raw(path, spool) as raw:
            stamp = () if spool else _stamp(os.fstat(raw.fileno()))
            packed = is_gzip(raw.read(2))
            raw.seek(0)
            if packed:
                while block := raw.read(BLOCK_BYTES):
                    digest.update(block)
                packed_size = raw.tell()
                raw.seek(0)
                with _inflated(raw, packed) as stream:
                    survey = _survey_packed(stream, name, packed_size)
            else:
                survey = survey_bytes(raw, name, digest)
        if survey.size == 0:
            raise ScanError(
                "is empty", where=name, hint="a scan is a text table of positions and heights"
            )
        yield Source(
            path=path,
            name=name,
            sha256=digest.hexdigest(),
            packed=packed,
            head=survey.head,
            whole=survey.size == len(survey.head),
            size=survey.size,
            lines=survey.lines,
            nul=survey.nul,
            _stamp=stamp,
            _spool=spool,
        )
    finally:
        if spool is not None:
            spool.close()


def is_gzip(head: bytes) -> bool:
    """Whether a file that begins like this is packed."""
    return head.startswith(_GZIP_MAGIC)


def _check_regular(path: str, name: str) -> None:
    try:
        mode = os.stat(path).st_mode  # noqa: PTH116
    except ValueError as error:  # a NUL in the name
        raise ScanError("cannot be the name of a file", where=shown(name)) from error
    if stat.S_ISDIR(mode):
        raise ScanError("is a directory", where=name, hint="name a scan file in it")
    if not stat.S_ISREG(mode):
        # Opening a pipe that nobody writes to would wait for ever.
        raise ScanError(
            "is a pipe or device, not a file",
            where=name,
            hint=f"feed it to standard input and write '{STDIN}' for the file",
        )


def _stamp(status: os.stat_result) -> tuple[int, ...]:
    return status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns


@contextmanager
def _raw(path: str, spool: IO[bytes] | None) -> Iterator[BinaryIO]:
    if spool is not None:
        spool.seek(0)
        yield cast(BinaryIO, spool)
    else:
        with open(path, "rb") as file:  # noqa: PTH123
            yield file


@contextmanager
def _inflated(raw: BinaryIO, packed: bool) -> Iterator[BinaryIO]:
    if packed:
        with gzip.GzipFile(fileobj=raw, mode="rb") as stream:
            yield cast(BinaryIO, stream)
    else:
        yield raw


def _spooled(name: str) -> IO[bytes]:
    """Standard input, kept so that it can be read again; on disk once it is large."""
    import tempfile  # only where needed: it costs a few milliseconds of start-up

    received = getattr(sys.stdin, "buffer", None)
    if received is None:
        raise ScanError("is not there", where=name, hint="pipe a file into the command")
    spool = tempfile.SpooledTemporaryFile(max_size=_SPOOL_BYTES)  # noqa: SIM115
    try:
        size = 0
        while block := received.read(BLOCK_BYTES):
            size += len(block)
            check_size(size, name)
            spool.write(block)
    except BaseException:
        spool.close()
        raise
    return spool


def _survey_packed(stream: BinaryIO, name: str, packed_size: int) -> Survey:
    try:
        return survey_bytes(stream, name, None, packed_size)
    except (EOFError, zlib.error, gzip.BadGzipFile) as error:
        raise ScanError(
            f"is a damaged or cut-off gzip file ({error})",
            where=name,
            hint="copy it again from where it was made",
        ) from error
