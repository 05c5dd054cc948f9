"""The tables are what they were when they were checked against their sources."""

from __future__ import annotations

import zlib

import pytest

from loomwright.data import source, table, table_names
from loomwright.data.tables import GRADES
from loomwright.errors import UnknownNameError

# Rows, and the sum of every column of numbers. A silent edit of a value changes a sum.
PINNED = {
    "battery_soc": (
        26,
        {
            "charge_percent": 1255.0,
            "open_circuit_v": 183.69,
            "specific_gravity": 19.14,
            "freezes_c": -341.6,
        },
    ),
    "conductor_iec60228": (
        54,
        {"area_mm2": 3036.75, "conductor_class": 216.0, "max_ohm_per_km": 354.2603},
    ),
    "conductor_iso6722_flry": (
        26,
        {
            "area_mm2": 587.95,
            "strands": 505.0,
            "strand_diameter_mm": 2.91,
            "max_ohm_per_km": 414.029,
            "max_outer_diameter_mm": 33.8,
        },
    ),
    "constants_conductor": (14, {"value": 8428.2859370527}),
    "copper_temp_correction_iec60228": (20, {"temperature_c": 1050.0, "kt": 17.886}),
    "failure_modes": (21, {"share": 6.98}),  # seven kinds, one with 0.98 of its modes
    "fuse_colours": (24, {"rating_a": 601.5}),
    "fuse_sizes": (
        3,
        {"length_mm": 59.2, "width_mm": 17.2, "height_mm": 69.1, "least_a": 23.0, "most_a": 150.0},
    ),
    "fuse_time_current": (
        19,
        {"percent_of_rating": 4770.0, "least_s": 734584.85, "most_s": 8064.6},
    ),
    "fuse_voltage_drop": (
        6,
        {"rating_a": 95.0, "drop_mv": 2.1, "current_ma": 370.0, "resistance_mohm": 40.13},
    ),
    "iec60757_colours": (17, {}),
    "lamps_r37": (22, {"system_v": 324.0, "rated_w": 779.0, "test_v": 367.1, "most_w": 924.25}),
    "practice_tasks": (29, {}),
    "starter_solenoid": (
        11,
        {
            "system_v": 264.0,
            "test_v": 200.0,
            "both_windings_a": 636.0,
            "hold_in_a": 111.0,
            "both_windings_ohm": 5.7703,
            "hold_in_ohm": 32.26,
            "pull_in_ohm": 7.0885,
        },
    ),
    "supply_voltage_limits": (26, {"least": 547.5, "most": 1344.0}),
    "voltage_drop_limits": (32, {"system_v": 476.0, "limit": 21.23}),
    "worked_examples": (53, {}),
}
# Tables of words: a checksum of the words.
PINNED_WORDS = {"iec60757_colours": 789567010, "worked_examples": 985636941}
GRADES_COUNTED = {  # rows that are (published, practice, memory)
    "conductor_iso6722_flry": (11, 0, 15),
    "failure_modes": (3, 0, 18),
    "fuse_time_current": (3, 0, 16),
    "voltage_drop_limits": (19, 6, 7),
    "lamps_r37": (2, 0, 20),
    "practice_tasks": (0, 29, 0),  # a list of the trade's tasks: no document was copied
}


def test_every_table_is_pinned() -> None:
    assert set(PINNED) == set(table_names())


@pytest.mark.parametrize("name", PINNED)
def test_rows_and_sums(name: str) -> None:
    rows, sums = PINNED[name]
    read = table(name)
    assert len(read.rows) == rows
    # 1e-9: sums of the same decimal numbers; only the order of adding may differ.
    assert {column: sum(read.numbers(column)) for column in sums} == pytest.approx(sums, rel=1e-9)


@pytest.mark.parametrize("name", PINNED_WORDS)
def test_words(name: str) -> None:
    text = "\n".join("|".join(row.values()) for row in table(name).rows)
    assert zlib.crc32(text.encode()) == PINNED_WORDS[name]


@pytest.mark.parametrize("name", PINNED)
def test_every_row_has_a_grade_and_known_sources(name: str) -> None:
    read = table(name)
    for row in read.rows:
        assert row["grade"] in GRADES
        ids = row["source"].split(";")
        assert [source(one).id for one in ids] == ids
        # A row with no document behind it must not look like one that has.
        if row["grade"] == "published":
            assert any(one.startswith("S") for one in ids)
        else:
            assert row["grade"] in ids
    assert set(read.sources) == {one for row in read.rows for one in row["source"].split(";")}


@pytest.mark.parametrize("name", PINNED)
def test_every_cell_is_named(name: str) -> None:
    read = table(name)
    assert {"source", "grade", "note"} <= set(read.columns)
    assert set(read.units) == set(read.columns)
    for row in read.rows:
        assert set(row) == set(read.columns)
        assert all(isinstance(cell, str) for cell in row.values())


@pytest.mark.parametrize("name", GRADES_COUNTED)
def test_grades(name: str) -> None:
    grades = [row["grade"] for row in table(name).rows]
    assert tuple(grades.count(grade) for grade in GRADES) == GRADES_COUNTED[name]


def test_units() -> None:
    units = table("conductor_iec60228").units
    assert units["area_mm2"] == "mm2"
    assert units["max_ohm_per_km"] == "ohm/km"
    assert units["material"] == ""


def test_a_table_is_read_once_and_cannot_be_changed() -> None:
    first = table("fuse_sizes")
    assert table("fuse_sizes") is first
    with pytest.raises(TypeError):
        first.rows[0]["series"] = "other"  # type: ignore[index]


def test_unknown_names_offer_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="Did you mean 'fuse_colours'"):
        table("fuse_colors")
    with pytest.raises(UnknownNameError, match="no table 'sources'"):
        table("sources")
    with pytest.raises(UnknownNameError, match="no source 'S999'"):
        source("S999")
    with pytest.raises(UnknownNameError, match="Did you mean 'rating_a'"):
        table("fuse_colours").numbers("rating")


def test_register_entries_say_what_they_are() -> None:
    openstax = source("S36")
    assert openstax.title.startswith("OpenStax College Physics 2e")
    assert openstax.grade == "A"
    assert source("memory").grade == ""
    assert "not confirmed" in source("memory").title
