"""The form of a record: what its SHA-256 is taken of, and what stands in its file.

The SHA-256 of a record is that of its *canonical JSON*: the record without its own key ``sha256``,
keys sorted by code point, no white space, numbers as the shortest decimals that give back the same
float, letters outside ASCII as they are, encoded in UTF-8.  Anyone can take it again::

    import hashlib, json
    record = json.load(open("0001-N24-03.json", encoding="utf-8"))
    del record["sha256"]
    text = json.dumps(record, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    print(hashlib.sha256(text.encode("utf-8")).hexdigest())

The file holds the same data with line ends, for people.  A record is intact only where its file
is, byte for byte, what this module writes of its data; so white space cannot be touched either.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

Data = dict[str, Any]

SCHEMA = "filmstress/record/1"
SEAL = "sha256"


def seal_of(record: Mapping[str, Any]) -> str:
    """SHA-256 of a record's canonical JSON, in hexadecimal digits.

    Raises
    ------
    ValueError
        The record holds what JSON in UTF-8 cannot: NaN, an infinite number, half a letter.
    """
    rest = {key: value for key, value in record.items() if key != SEAL}
    text = json.dumps(
        rest, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def sealed(record: Mapping[str, Any]) -> Data:
    """The record with its SHA-256 as the last key."""
    clean: Data = plain({key: value for key, value in record.items() if key != SEAL})
    return clean | {SEAL: seal_of(clean)}


def written(record: Mapping[str, Any]) -> bytes:
    """The bytes of a record's file.

    Raises
    ------
    ValueError
        As `seal_of`.
    """
    return (json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def parsed(raw: bytes) -> Any:
    """What a file holds as JSON.

    Raises
    ------
    ValueError
        It is not JSON in UTF-8, is nested too deep, or spells half a letter.
    """
    try:
        data = json.loads(raw.decode("utf-8"), parse_constant=_no_number)
    except RecursionError:
        raise ValueError("nested too deep") from None
    if b"\\u" in raw:
        # Half a letter can be spelled in JSON, but neither be hashed nor name a file.
        json.dumps(data, ensure_ascii=False).encode("utf-8")
    return data


def _no_number(word: str) -> None:
    raise ValueError(f"{word} is no number of JSON")


def plain(data: Any) -> Any:
    """Data as a file gives them back: lists for tuples, and only texts that UTF-8 can write."""
    # A name of a file need not be one.
    if isinstance(data, str):
        return data.encode("utf-8", "backslashreplace").decode("utf-8")
    if isinstance(data, Mapping):
        return {plain(key): plain(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [plain(value) for value in data]
    return data
