"""Keeping the record of a lot that is measured."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from filmstress.cli.output import say

if TYPE_CHECKING:
    from filmstress.errors import FilmstressError
    from filmstress.lots.batch import Procedure
    from filmstress.records.lot import LotResult


class Keeping:
    """The record of one run.

    The folder is tried before anything is measured.  If the record cannot be written afterwards,
    the results are shown first and the refusal raised then, so that nothing is lost.
    """

    def __init__(self, file: str, folder: str | None) -> None:
        from filmstress.lots.record.folder import check_folder

        self.folder = Path(file).parent / "records" if folder is None else Path(folder)
        self.told: dict[str, object] | None = None
        self.failed: FilmstressError | None = None
        check_folder(self.folder)

    def write(self, result: LotResult, procedure: Procedure) -> None:
        """Write the record, or keep why it could not be."""
        from filmstress.errors import RefusedInput
        from filmstress.lots.record.folder import add_record
        from filmstress.lots.record.making import record_of
        from filmstress.report.lot import lot_data
        from filmstress.version import VERSION

        try:
            body = record_of(
                result,
                lot_data(result, VERSION),
                folder=self.folder,
                procedure=procedure,
                version=VERSION,
            )
            written = add_record(self.folder, body)
        except RefusedInput as error:
            self.failed = error
            return
        self.told = {
            "path": str(written.path),
            "number": written.number,
            "sha256": written.sha256,
            "previous": written.previous,
        }

    @property
    def written(self) -> tuple[str, str] | None:
        """Path and SHA-256 of the record, where there is one."""
        return None if self.told is None else (str(self.told["path"]), str(self.told["sha256"]))

    def say(self) -> None:
        """Say where the record is, or raise why there is none."""
        if self.failed is not None:
            raise self.failed
        if self.told is not None:
            say(f"record written: {self.told['path']}\nSHA-256 {self.told['sha256']}")
