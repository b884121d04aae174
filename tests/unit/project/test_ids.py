"""Names and ids that are not taken yet."""

from __future__ import annotations

from itertools import islice

from core.project.ids import free_ids, free_name


def test_free_ids_fill_the_gaps_and_come_once_each() -> None:
    assert list(islice(free_ids("p", ["p1", "p3", "other"]), 3)) == ["p2", "p4", "p5"]


def test_a_name_that_is_free_stays_and_a_taken_one_gets_the_lowest_free_number() -> None:
    assert free_name("shelf", []) == "shelf"
    assert free_name("shelf", {"shelf", "shelf-2"}) == "shelf-3"
    assert free_name("My tooth", {"My tooth": 1}, joint=" ") == "My tooth 2"
