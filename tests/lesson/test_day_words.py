"""Days as people write them."""

from datetime import date, timedelta

import pytest

from companion.language import speaking
from companion.lesson.day_words import day_words, near_day, short_day, short_year_day, year_day

DAY = date(2026, 9, 5)


@pytest.mark.parametrize(
    ("code", "long", "long_year", "short", "short_year"),
    [
        ("en", "Saturday 5 September", "Saturday 5 September 2026", "Sat 5 Sep", "Sat 5 Sep 2026"),
        ("es", "sábado 5 de septiembre", "sábado 5 de septiembre de 2026", "sáb 5 sep", "sáb 5 sep 2026"),
        ("ko", "9월 5일 토요일", "2026년 9월 5일 토요일", "9월 5일 토", "2026년 9월 5일 토"),
    ],
)
def test_a_day_is_written_as_its_language_writes_it(
    code: str, long: str, long_year: str, short: str, short_year: str
) -> None:
    """In its order, with its names."""
    with speaking(code):
        said = day_words(DAY), year_day(DAY), short_day(DAY), short_year_day(DAY)
    assert said == (long, long_year, short, short_year)


def test_a_day_is_told_with_its_year_where_it_could_be_of_another() -> None:
    """Within half a year of today, before or after, each day and month comes but once."""
    for away, said in ((182, "Saturday 5 September"), (183, "Saturday 5 September 2026")):
        assert near_day(DAY, DAY + timedelta(days=away)) == near_day(DAY, DAY - timedelta(days=away)) == said
