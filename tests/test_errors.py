"""The error tree: every message says what, where and the next step."""

from __future__ import annotations

import inspect

import pytest

from loomwright import errors
from loomwright.errors import (
    ConflictError,
    FileProblemsError,
    LoomwrightError,
    NotFoundError,
    Problem,
    QuantityError,
    SolveError,
    UnknownNameError,
    UsageError,
    nearest,
)

CLASSES = [
    member
    for _, member in inspect.getmembers(errors, inspect.isclass)
    if issubclass(member, Exception)
]


def test_the_tree_in_the_docstring_names_every_class() -> None:
    assert len(CLASSES) == 11
    for member in CLASSES:
        assert member.__name__ in (errors.__doc__ or "")
        assert member.__name__ in errors.__all__
        assert issubclass(member, LoomwrightError)
        assert member.__name__.endswith("Error")


def test_codes_are_plain_and_different() -> None:
    codes = [member.code for member in CLASSES]
    assert len(set(codes)) == len(codes)
    assert {NotFoundError.code, ConflictError.code} == {"not-found", "conflict"}


@pytest.mark.parametrize("member", [QuantityError, UnknownNameError, FileProblemsError])
def test_mistakes_of_the_user_are_usage_errors(member: type[Exception]) -> None:
    assert issubclass(member, UsageError)


@pytest.mark.parametrize("member", [NotFoundError, ConflictError, SolveError])
def test_other_trouble_is_not_a_usage_error(member: type[Exception]) -> None:
    assert not issubclass(member, UsageError)


def test_message_and_next_step_are_kept_apart_and_shown_together() -> None:
    error = LoomwrightError("The fuse is missing.", next_step="Add a fuse.")
    assert error.message == "The fuse is missing."
    assert error.next_step == "Add a fuse."
    assert str(error) == "The fuse is missing. Add a fuse."


def test_message_without_next_step_has_no_trailing_space() -> None:
    assert str(NotFoundError("There is no job 7.")) == "There is no job 7."


def test_unknown_name_offers_the_nearest() -> None:
    error = UnknownNameError("state", "lockng", ["at rest", "locking"])
    assert str(error) == "There is no state 'lockng'. Did you mean 'locking'?"
    assert error.name == "lockng"


def test_unknown_name_lists_what_there_is() -> None:
    error = UnknownNameError("state", "zzz", iter(["at rest", "locking"]))
    assert str(error) == "There is no state 'zzz'. Known: at rest, locking."


def test_unknown_name_with_nothing_known() -> None:
    assert str(UnknownNameError("job", "1", [])) == "There is no job '1'. Known: none."


def test_unknown_name_cuts_a_long_list() -> None:
    error = UnknownNameError("part", "zzz", [f"K{n}" for n in range(13)])
    assert str(error).endswith("K10, K11, ...")


def test_nearest_ignores_case_and_keeps_the_spelling() -> None:
    assert nearest("ecu", ["BAT", "ECU"]) == "ECU"
    assert nearest("xyz", ["BAT", "ECU"]) is None


def test_file_problems_come_together_in_file_order() -> None:
    late = Problem(9, 3, "Unknown kind 'fuze'.", "Did you mean 'fuse'?")
    early = Problem(2, 1, "There is no battery.", "")
    error = FileProblemsError("lock.yaml", [late, early])
    assert error.problems == (early, late)
    assert str(error) == (
        "lock.yaml:2:1: There is no battery.\n"
        "lock.yaml:9:3: Unknown kind 'fuze'. Did you mean 'fuse'?"
    )


def test_solve_error_gives_physical_reasons() -> None:
    error = SolveError(["no battery", "no earth"], next_step="Draw a battery.")
    assert error.reasons == ("no battery", "no earth")
    assert str(error) == "no battery; no earth. Draw a battery."
