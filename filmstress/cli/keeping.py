"""Keeping the record of a lot that is measured."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from filmstress.cli.output import say

if TYPE_CHECKING:
    from filmstress.errors import FilmstressError
    from filmstress.history.store import History
    from filmstress.lots.batch import Procedure
    from filmstress.lots.record.canonical import Data
    from filmstress.records.lot import LotResult


class Keeping:
    """The record of one run.

    The folder, and a history that is named, are tried before anything is measured; one in its
    usual place that cannot be used is only told.  If the record cannot be written afterwards,
    the results are shown first and the refusal raised then, so that nothing is lost.
    """

    def __init__(self, file: str, folder: str | None, history: str | None) -> None:
        from filmstress.history.store import VARIABLE, default_place
        from filmstress.lots.record.folder import check_folder

        self.place = history or default_place()
        self.place_stated = history is not None or VARIABLE in os.environ
        if self.place_stated:
            self._open().close()
        self.folder = Path(file).parent / "records" if folder is None else Path(folder)
        self.told: dict[str, object] | None = None
        self.failed: FilmstressError | None = None
        self.entry: int | None = None
        self.same: tuple[int, ...] = ()
        self.unkept: FilmstressError | None = None
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
        self._keep(body, written.sha256)

    def _open(self) -> History:
        from filmstress.history.store import open_history

        return open_history(self.place, create=True)

    def _keep(self, body: Data, sha256: str) -> None:
        """Append the lot to the history; the record stands whatever comes of it."""
        from filmstress.errors import RefusedInput
        from filmstress.history.counting import same_scans
        from filmstress.history.questions import Choice
        from filmstress.history.upkeep import kept_record
        from filmstress.history.writing import keep

        try:
            history = self._open()
            try:
                kept = kept_record(body | {"sha256": sha256})
                self.entry = keep(history, kept)
                self.same = same_scans(
                    history, self.entry, Choice(recipe=kept.recipe, lot=kept.lot)
                )
            finally:
                history.close()
        except RefusedInput as error:
            error.hint = "the record stands; when it is mended: filmstress history import RECORD"
            self.unkept = error

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
        if self.entry is not None:
            from filmstress.history.store import shown

            say(f"entry {self.entry} of the history, {shown(self.place)}")
        if self.same and self.told is not None:
            many = len(self.same) > 1
            say(
                f"note: entr{'ies' if many else 'y'} {', '.join(map(str, self.same))}"
                f" hold{'' if many else 's'} the same scans; charts and comparisons count the"
                f" latest.\n  To say why: filmstress history correct {self.same[-1]}"
                f' {self.told["path"]} --why "..."'
            )
        if self.unkept is not None:
            if self.place_stated:
                raise self.unkept
            say(f"not kept in the history: {self.unkept}")
