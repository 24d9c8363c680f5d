"""Invented boards from export to a lint without errors."""

import sys

import pytest

from tests.lists import boards, questions


@pytest.mark.parametrize(
    "placements", [70, *(pytest.param(size, marks=pytest.mark.long) for size in (140, 450, 850))]
)
def test_a_board_needs_one_typed_line(tmp_path, placements):
    found = boards.walk(placements, tmp_path, f"{sys.executable} -m jobcheck")
    assert found.last.startswith("0 errors, ")
    assert (found.questions, found.commands) == (0, 2)
    assert found.typed <= 1


def test_the_table_of_questions_is_current():
    assert questions.PAGE.read_text("utf-8") == questions.page()
