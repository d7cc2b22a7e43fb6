"""What the lines of a wafer warn of, told for the wafer."""

import math
from types import SimpleNamespace

from filmstress.measure.wafer import _of_lines
from filmstress.records.notice import Notice, WarningCode


def test_a_warning_of_one_line_says_which_and_one_of_all_is_said_once() -> None:
    of_all = Notice(WarningCode.MASKED_SHARE, "much")
    of_one = Notice(WarningCode.LOW_MATCH, "too smooth")
    film = SimpleNamespace(
        directions=[
            SimpleNamespace(azimuth=0.0, lines=[SimpleNamespace(warnings=[of_all, of_one])] * 2),
            SimpleNamespace(azimuth=0.25 * math.pi, lines=[SimpleNamespace(warnings=[of_all])]),
        ]
    )
    assert [one.message for one in _of_lines(film)] == ["much", "along 0 deg: too smooth"]
    film.directions.pop()
    assert [one.message for one in _of_lines(film)] == ["much", "too smooth"]
