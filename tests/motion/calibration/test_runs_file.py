"""Runs from CSV files as people save them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.calibration import RunsColumn, fit_straight, read_runs_csv
from motion.errors import FitError, UnitError

STRAIGHT = (
    RunsColumn("commanded", "length"),
    RunsColumn("measured", "length"),
    RunsColumn("sideways", "length", False),
)
SPIN = (RunsColumn("commanded", "angle"), RunsColumn("measured", "angle"), RunsColumn("yaw", "angle", False))
SQUARE = (RunsColumn("way", "way"), RunsColumn("x", "length"), RunsColumn("y", "length"))
DRIFT = (RunsColumn("seconds", "number"), RunsColumn("yaw", "angle"))


def test_a_plain_file_is_read_in_the_clubs_unit():
    table = read_runs_csv("commanded,measured\n60,59\n60,59.5\n90,88\n", STRAIGHT, "cm")
    assert table.columns == {"commanded": (600.0, 600.0, 900.0), "measured": (590.0, 595.0, 880.0)}
    assert table.problems == ()
    assert table.runs == 3
    assert fit_straight(table.columns["commanded"], table.columns["measured"]).runs == 3


def test_a_file_with_mark_semicolons_commas_and_other_order_is_read():
    table = read_runs_csv("\ufeffMeasured (cm);Commanded (cm)\r\n59,5;60\r\n\r\n23 in;60\r\n", STRAIGHT, "cm")
    assert table.columns["commanded"] == (600.0, 600.0)
    assert table.columns["measured"] == pytest.approx((595.0, 584.2))


def test_a_file_without_header_has_its_columns_in_order():
    table = read_runs_csv("360\t362\n-360\t-361\n", SPIN, "cm")
    assert table.columns == {"commanded": (360.0, -360.0), "measured": (362.0, -361.0)}


def test_a_square_says_which_way_round():
    table = read_runs_csv("way,x,y\ncw,-1,2\nLeft,3,4\n", SQUARE, "cm")
    assert table.ways == ("cw", "ccw")
    assert table.columns == {"x": (-10.0, 30.0), "y": (20.0, 40.0)}


def test_every_line_that_cannot_be_used_is_named_and_the_rest_is_kept():
    text = 'commanded,measured\n60,59\n60,\n60,=A1\n60,far\n60,"1,234"\n60,58\n'
    table = read_runs_csv(text, STRAIGHT, "cm")
    assert table.runs == 2
    assert [problem.line for problem in table.problems] == [3, 4, 5, 6]
    assert "empty" in table.problems[0].message
    assert "formula" in table.problems[1].message


def test_a_column_that_is_only_partly_filled_is_left_out():
    table = read_runs_csv("commanded,measured,sideways\n60,59,1\n60,59,\n", STRAIGHT, "cm")
    assert set(table.columns) == {"commanded", "measured"}


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "empty"),
        (" \n \n", "empty"),
        ("commanded,other\n1,2", "missing_column"),
        ("1,2\n" * 6000, "too_many"),
    ],
)
def test_a_file_that_is_none_is_refused(text, code):
    with pytest.raises(FitError) as raised:
        read_runs_csv(text, STRAIGHT, "cm")
    assert raised.value.code == code


def test_an_unknown_unit_is_refused():
    with pytest.raises(UnitError):
        read_runs_csv("1,2", STRAIGHT, "ell")


@given(st.text(max_size=80), st.sampled_from([STRAIGHT, SPIN, SQUARE, DRIFT]))
def test_any_text_is_a_table_or_a_typed_error(text, columns):
    try:
        table = read_runs_csv(text, columns, "cm")
    except FitError:
        return
    assert all(len(column) == table.runs for column in table.columns.values())
