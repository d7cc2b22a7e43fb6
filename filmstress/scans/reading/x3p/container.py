"""The zip archive of an X3P file, which may have been made to do harm.

Nothing is unpacked to disk and no name in it is used as a path.  How much is inflated is bounded by
what the caller expects, whatever the archive claims: `ZipFile.read` would inflate a member to its
end before it looks at the size.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import BinaryIO, cast

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import ScanError
from filmstress.scans.reading.numerals import shown
from filmstress.scans.reading.survey import inflates_too_much

Bytes = NDArray[np.uint8]

DESCRIPTION = "main.xml"
_MAX_MEMBERS = 1000
_MAX_DIRECTORY_BYTES = 1 << 20
_MAX_CHECKSUM_BYTES = 4096
_ENCRYPTED = 1
_LOCAL_HEADER, _LOCAL_MAGIC = struct.Struct("<4s22xHH"), b"PK\x03\x04"
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    NotImplementedError,  # what zipfile says of features that it lacks
    RuntimeError,  # of encryption
    ValueError,  # of offsets below zero, and of names in a broken encoding
    OverflowError,
)
# Folders and files that operating systems put into archives by themselves.
_OF_SYSTEMS = ("__MACOSX/",)
_DIGEST = re.compile(rb"\s*(?:\xef\xbb\xbf)?([0-9a-fA-F]{32})(?![0-9a-fA-F])")


class Archive:
    """The members of an X3P file that may be used.

    Parameters
    ----------
    stream : binary file
        That can seek.
    name : str
        What messages call the file.
    """

    def __init__(self, stream: BinaryIO, name: str) -> None:
        self.name = name
        self._stream = stream
        door = _Door(stream, name)
        with _damage_told(name):
            self._zip = zipfile.ZipFile(cast(BinaryIO, door))
        door.open = True
        members = self._zip.infolist()
        if len(members) > _MAX_MEMBERS:
            raise ScanError(
                f"is a zip archive of {len(members)} files; want {_MAX_MEMBERS} or fewer",
                where=name,
                hint="export the scan again",
            )
        self._members: dict[str, list[zipfile.ZipInfo]] = {}
        for info in members:
            self._members.setdefault(info.filename, []).append(info)
        self._folder = self._find_folder()

    def _find_folder(self) -> str:
        """The folder that everything is in: "" or one with a slash at its end."""
        found = [
            name.removesuffix(DESCRIPTION)
            for name in self._members
            if name.rpartition("/")[2] == DESCRIPTION
            and name.count("/") <= 1
            and not name.startswith(_OF_SYSTEMS)
        ]
        if "" in found:
            return ""
        if len(found) != 1:
            raise ScanError(
                "is a zip archive or spreadsheet, not a scan",
                where=self.name,
                hint="export the scan as X3P, SDF or delimited text",
            )
        return found[0]

    def member(self, link: str, element: str = "") -> zipfile.ZipInfo | None:
        """The member that a link of the description names; None where there is none.

        Raises
        ------
        ScanError
            A link that leads out of the archive; a member that may not be used.
        """
        path = link.replace("\\", "/")
        parts = path.split("/")
        if not path or not parts[0] or ":" in path or ".." in parts:
            raise ScanError(
                f"{element} names {shown(link)}, which is no file inside the archive",
                where=self.name,
                hint="do not trust this file; export the scan again",
            )
        path = self._folder + "/".join(part for part in parts if part not in ("", "."))
        found = self._members.get(path, [])
        if len(found) > 1:
            raise self._refused(path, f"is in the archive {len(found)} times")
        if not found:
            return None
        info = found[0]
        if info.flag_bits & _ENCRYPTED:
            raise self._refused(path, "is encrypted")
        if stat.S_ISLNK(info.external_attr >> 16):
            raise self._refused(path, "is a symbolic link")
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise self._refused(path, "is packed by a method other than deflate")
        return info

    def read(self, info: zipfile.ZipInfo, limit: int, *, crc: bool = True) -> Bytes:
        """The bytes of a member, of which there are as many as it says, and no more than a limit.

        ``crc`` is False where the caller checks a better sum.

        Raises
        ------
        ScanError
            More, or fewer; a member that is damaged, or grows so much that it was made to.
        """
        size = info.file_size
        if size > limit:
            raise self._refused(info.filename, f"has {size} bytes; want {limit} or fewer")
        if inflates_too_much(size, info.compress_size):
            raise self._refused(info.filename, "grows so much when inflated that it is no scan")
        with _damage_told(self.name, info.filename):
            if info.compress_type == zipfile.ZIP_STORED:
                data = self._stored(info)
            else:
                with self._zip.open(info) as stream:
                    data = np.frombuffer(stream.read(size + 1), np.uint8)
        if len(data) != size:
            raise self._refused(info.filename, "does not have the size that the archive says")
        # zipfile does this for members that are packed.
        if crc and info.compress_type == zipfile.ZIP_STORED and zlib.crc32(data.data) != info.CRC:
            raise self._refused(info.filename, "does not have the checksum of the archive")
        return data

    def check_md5(self, data: Bytes, md5: str, member: str) -> None:
        """Raise if bytes do not have the MD5 sum that the file states."""
        found = hashlib.md5(data.data, usedforsecurity=False).hexdigest()
        if found != md5:
            raise self._refused(
                member, f"does not have the MD5 checksum stated ({found} against {md5})"
            )

    def _stored(self, info: zipfile.ZipInfo) -> Bytes:
        """A member that is not packed, straight from the file into memory that numpy asks for.

        Twice as fast as through zipfile, which checks a sum of its own beside ours.
        """
        self._stream.seek(info.header_offset)
        magic, name_size, extra_size = _LOCAL_HEADER.unpack(self._stream.read(_LOCAL_HEADER.size))
        if magic != _LOCAL_MAGIC:
            raise zipfile.BadZipFile("no header")
        self._stream.seek(name_size + extra_size, os.SEEK_CUR)
        data = np.empty(info.file_size, np.uint8)
        return data[: self._stream.readinto(data)]  # type: ignore[attr-defined]

    def read_checksum(self, link: str) -> str | None:
        """The MD5 sum in a checksum file, in lower case; None where there is none."""
        info = self.member(link, "Record4/ChecksumFile")
        if info is None or info.file_size > _MAX_CHECKSUM_BYTES:
            return None
        found = _DIGEST.match(self.read(info, _MAX_CHECKSUM_BYTES).tobytes())
        return found[1].decode().lower() if found else None

    def _refused(self, member: str, why: str) -> ScanError:
        return ScanError(
            f"{shown(member)} {why}", where=self.name, hint="copy or export the scan again"
        )


class _Door:
    """A stream that yields no large pieces until it is opened.

    zipfile reads the whole directory of an archive before it can be asked how large it is.
    """

    def __init__(self, stream: BinaryIO, name: str) -> None:
        self._stream, self._name, self.open = stream, name, False
        self.seek, self.tell = stream.seek, stream.tell

    def seekable(self) -> bool:
        return True

    def read(self, size: int = -1) -> bytes:
        if self.open:
            return self._stream.read(size)
        if 0 <= size <= _MAX_DIRECTORY_BYTES:
            return self._stream.read(size)
        data = b"" if size > 0 else self._stream.read(_MAX_DIRECTORY_BYTES + 1)
        if size > 0 or len(data) > _MAX_DIRECTORY_BYTES:
            raise ScanError(
                f"is a zip archive with a directory of more than {_MAX_DIRECTORY_BYTES} bytes",
                where=self._name,
                hint="this is no scan",
            )
        return data


@contextmanager
def _damage_told(name: str, member: str = "") -> Iterator[None]:
    """Damage that zipfile finds, in the words of a `ScanError`."""
    try:
        yield
    except _DAMAGED as error:
        message = "is a zip archive or spreadsheet, not a scan, or it is damaged or cut short"
        if member:
            message = f"is damaged: {shown(member)} in it cannot be read ({error})"
        raise ScanError(message, where=name, hint="copy it again from where it was made") from error
