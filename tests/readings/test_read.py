"""A file is read whole by its profile, or refused with line and column."""

import dataclasses
import datetime

import pytest

from service.readings.profile import Probe, ProfileError, ReadingProfile
from service.readings.read import UnreadableFile, read
from service.readings.rows import MAX_ROWS
from service.readings.text import MAX_BYTES

UTC = datetime.UTC
START = datetime.datetime(2026, 11, 3, 7, 0, tzinfo=UTC)
PLAIN = ReadingProfile(
    delimiter=";",
    decimal=",",
    time_columns=(0,),
    time_kind="date_time",
    date_order="dmy",
    zone="UTC",
    probes=(Probe(name="root", column=1), Probe(name="tip", column=2)),
    unit="C",
)
LONG = ReadingProfile(
    delimiter=",",
    time_columns=(0,),
    time_kind="elapsed_s",
    layout="long",
    name_column=1,
    value_column=2,
    unit="C",
)


def lines(*rows):
    return "\n".join(rows).encode() + b"\n"


def at(hour, minute, second=0, day=3):
    return datetime.datetime(2026, 11, day, hour, minute, second, tzinfo=UTC)


def refusal(raw, profile=PLAIN, started_at=None):
    with pytest.raises(UnreadableFile) as found:
        read(raw, profile, started_at=started_at)
    return found.value


def test_values_and_times_of_a_wide_file():
    readings = read(lines("03.11.26 08:00;21,5;22", "03.11.26 08:01;---;+22,5"), PLAIN, started_at=None)
    assert readings.times == (at(8, 0), at(8, 1))
    assert readings.probes == {"root": (21.5, None), "tip": (22.0, 22.5)}
    assert (readings.rows_read, readings.dropped_values, readings.notes) == (2, 1, ())


@pytest.mark.parametrize("word", ["---", "nan", "NaN", "", "OL", "ERR", "-", "N/A", "****"])
def test_words_for_a_dropped_probe_are_no_values(word):
    assert read(lines(f"03.11.26 08:00;{word};22"), PLAIN, started_at=None).probes["root"] == (None,)


@pytest.mark.parametrize(
    ("unit", "cell", "celsius"),
    [("F", "140", 60.0), ("F", "32", 0.0), ("F", "-40", -40.0), ("K", "273,15", 0.0), ("C", "60,25", 60.25)],
)
def test_units_become_celsius(unit, cell, celsius):
    # Fixed points by definition: 0 °C = 32 °F = 273.15 K; −40 °C = −40 °F.
    profile = dataclasses.replace(PLAIN, unit=unit, probes=(Probe(name="root", column=1),))
    assert read(lines(f"03.11.26 08:00;{cell}"), profile, started_at=None).probes["root"] == (celsius,)


def test_a_probe_with_a_unit_of_its_own():
    profile = dataclasses.replace(PLAIN, probes=(Probe(name="a", column=1, unit="F"), Probe(name="b", column=2)))
    readings = read(lines("03.11.26 08:00;140;60"), profile, started_at=None)
    assert readings.probes == {"a": (60.0,), "b": (60.0,)}


def test_a_unit_beside_the_number_is_read_and_checked():
    assert read(lines("03.11.26 08:00;21,5 °C;22C"), PLAIN, started_at=None).probes["root"] == (21.5,)
    wrong = refusal(lines("03.11.26 08:00;21,5 °C;70 °F"))
    assert (wrong.line, wrong.column) == (1, 3)
    assert "written in F where this profile's unit is C" in wrong.sentence


@pytest.mark.parametrize(
    ("row", "column", "says"),
    [
        ("03.11.26 08:01;21.5;22", 2, "a point where this profile's decimal sign is a comma"),
        ("03.11.26 08:01;21,5;hot", 3, "“hot” is not a number"),
        ("03.11.26 08:01;3276,7;22", 2, "would be 3276.7 °C"),
        ("03.11.26 08:01;-127;22", 2, "add it to the profile's words for no value"),
        ("03.11.26 08:01;1_0;22", 2, "is not a number"),
        ("03.11.26 08:01;inf;22", 2, "is not a number"),
        ("03.13.26 08:01;21,5;22", 1, "is not a date with day first"),
        ("30.02.26 08:01;21,5;22", 1, "is not a date with day first"),
        ("03.11.26 25:01;21,5;22", 1, "is not a date"),
        ("Summary;21,5;22", 1, "is not a date and time"),
        ("03.11.26 08:01;21,5", 2, "2 columns where the profile needs 3"),
        ("03.11.26 08:01;21,5;22;23", 4, "in a column of its own"),
        ("03.11.26 07:59;21,5;22\n03.11.26 08:02;21;22", 1, "runs backwards"),
    ],
)
def test_a_wrong_row_is_refused_with_line_and_column(row, column, says):
    found = refusal(lines("03.11.26 08:00;21,5;22", row, "03.11.26 08:03;21,5;22"))
    assert says in found.sentence
    assert (found.line, found.column) == (2, column)
    assert str(found).startswith(f"Line 2, column {column}: ")


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "empty"),
        (b" \n\n", "empty"),
        (b"\xef\xbb\xbf", "empty"),
        (b"%PDF-1.7\n", "a PDF document"),
        (b"\x89PNG\r\n\x1a\n\0\0", "a PNG picture"),
        (b"PK\x03\x04zzzz", "a workbook or a zip archive"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "a workbook in a binary format"),
        (b"03.11.26 08:00;21,5;22\n\0\0\0", "control character (U+0000)"),
        ("0;1;2\n".encode("utf-16-le"), "UTF-16 without its mark"),
        (b"\xff\xfe0", "isn't valid UTF-16"),
        (b"a\x81b", "The byte 81 belongs to no text"),
        (b"x" * 30_000, "at most 20000"),
        (b"x" * (MAX_BYTES + 1), "at most 20 MB"),
    ],
)
def test_what_is_no_text_of_readings_is_refused(raw, says):
    assert says in refusal(raw).sentence


def test_the_line_of_a_control_character_is_told():
    assert refusal(b"a\r\nb\r\nc\x00\r\n").line == 3


@pytest.mark.long
def test_more_rows_than_the_limit_are_refused():
    profile = dataclasses.replace(PLAIN, time_kind="elapsed_s", date_order=None, probes=(Probe(name="a", column=1),))
    raw = "\n".join(f"{i};2" for i in range(MAX_ROWS + 1)).encode()
    found = refusal(raw, profile, START)
    assert found.line == MAX_ROWS + 1
    assert f"more than {MAX_ROWS} rows" in found.sentence


def test_title_lines_are_passed_over_until_the_time_reads():
    raw = lines("oven 2", "Start;03.11.26 08:00", "", "03.11.26 08:00;21,5;22")
    assert read(raw, PLAIN, started_at=None).times == (at(8, 0),)
    found = refusal(lines("oven 2", "x;y;z"))
    assert found.line == 2
    assert found.sentence == "No line holds a time in column 1, as the profile says. “x” is not a date and time."


HEADED = dataclasses.replace(PLAIN, header_line=2, header=("t", "Root", "Tip"))


def test_a_header_that_moved_is_followed_and_noted():
    raw = lines("oven", "one more title", "T;root; tip", "03.11.26 08:00;21,5;22")
    readings = read(raw, HEADED, started_at=None)
    assert readings.rows_read == 1
    assert readings.notes == ("The header stands on line 3, not 2 as in the profile.",)


def test_columns_that_changed_places_are_refused():
    found = refusal(lines("oven", "t;tip;root", "03.11.26 08:00;21,5;22"), HEADED)
    assert (found.line, found.column) == (2, 2)
    assert "reads “tip” where the profile expects “Root”" in found.sentence


def test_a_header_repeated_among_the_readings_is_left_out():
    raw = lines("oven", "t;root;tip", "03.11.26 08:00;21,5;22", "t;root;tip", "03.11.26 08:01;21,5;22")
    readings = read(raw, HEADED, started_at=None)
    assert readings.rows_read == 2
    assert readings.notes == ("The header stands once among the readings and was left out.",)


def test_blank_lines_and_lines_of_delimiters_are_nothing():
    raw = lines("03.11.26 08:00;21,5;22", "", ";;", ";;;;", "03.11.26 08:01;21,5;22", "   ")
    assert read(raw, PLAIN, started_at=None).rows_read == 2


def test_lines_that_the_profile_leaves_out():
    profile = dataclasses.replace(PLAIN, ignored_starts=("#", "End"))
    raw = lines("03.11.26 08:00;21,5;22", "# door opened", "End of file")
    assert read(raw, profile, started_at=None).rows_read == 1


def test_a_last_line_cut_short_is_left_out_only_at_the_very_end():
    raw = b"03.11.26 08:00;21,5;22\n03.11.26 08:01;21"
    readings = read(raw, PLAIN, started_at=None)
    assert readings.rows_read == 1
    assert readings.notes == ("Line 2, the last, is cut short and was left out.",)
    assert "2 columns where the profile needs 3" in refusal(raw + b"\n").sentence


def test_line_ends_of_all_kinds_are_counted_alike():
    for end in ("\n", "\r\n", "\r"):
        raw = end.join(["03.11.26 08:00;21,5;22", "03.11.26 08:01;21,5;x", ""]).encode()
        assert refusal(raw).line == 2


def test_quoted_cells_hold_the_delimiter():
    profile = dataclasses.replace(PLAIN, delimiter=",")
    readings = read(lines('"03.11.26 08:00","21,5","22,0"'), profile, started_at=None)
    assert readings.probes == {"root": (21.5,), "tip": (22.0,)}


def test_unquoted_decimal_commas_between_commas_are_refused_by_the_header():
    profile = dataclasses.replace(HEADED, delimiter=",", decimal=".", header_line=1)
    found = refusal(lines("t,root,tip", "03.11.26 08:00,21,5,22,0"), profile)
    assert (found.line, found.column) == (2, 4)
    assert "A decimal comma may have been taken for the delimiter" in found.sentence


def test_a_long_file_gathers_the_readings_of_one_scan():
    rows = [f"{60 * m + 10 * c},{name},{20 + m + c}" for m in range(4) for c, name in enumerate(("a", "b", "c"))]
    readings = read(lines(*rows), LONG, started_at=START)
    assert readings.times == tuple(START + datetime.timedelta(minutes=m) for m in range(4))
    assert readings.probes["c"] == (22.0, 23.0, 24.0, 25.0)
    assert all(None not in values for values in readings.probes.values())
    assert readings.rows_read == 12


def test_a_long_file_with_one_probe_after_the_other():
    rows = [f"{60 * m},{name},{20 + m}" for name in ("a", "b") for m in range(3)]
    readings = read(lines(*rows), LONG, started_at=START)
    assert readings.probes == {"a": (20.0, 21.0, 22.0), "b": (20.0, 21.0, 22.0)}


def test_probes_staggered_by_more_than_half_an_interval_keep_their_own_times():
    rows = [f"{60 * m + s},{name},{20 + m}" for m in range(3) for name, s in (("a", 0), ("b", 30))]
    readings = read(lines(*rows), LONG, started_at=START)
    assert readings.probes == {"a": (20, None, 21, None, 22, None), "b": (None, 20, None, 21, None, 22)}


def test_a_scan_in_which_a_probe_is_absent_holds_none():
    rows = ["0,a,20", "10,b,30", "60,a,21", "120,a,22", "130,b,32"]
    assert read(lines(*rows), LONG, started_at=START).probes["b"] == (30, None, 32)


def test_names_in_the_profile_choose_the_probes_of_a_long_file():
    profile = dataclasses.replace(LONG, probes=(Probe(name="spar", label="CH1"), Probe(name="web", label="CH9")))
    readings = read(lines("0,ch1,20", "0,RH,55"), profile, started_at=START)
    assert readings.probes == {"spar": (20.0,), "web": (None,)}
    assert "Not in the profile and left out: RH." in readings.notes
    assert "The file holds no reading of web." in readings.notes
    assert "no reading of the probes" in refusal(lines("0,x,20"), profile, START).sentence


def test_names_between_the_values():
    profile = ReadingProfile(
        delimiter=";", decimal=",", time_columns=(0,), time_kind="elapsed_min", layout="pairs", name_column=1, unit="C"
    )
    readings = read(lines("0;a;20,5;b;21", "1;a;20,6;b;---", "2;b;22;;"), profile, started_at=START)
    assert readings.probes == {"a": (20.5, 20.6, None), "b": (21.0, None, 22.0)}
    assert readings.dropped_values == 1
    found = refusal(lines("0;a;20,5;b"), profile, START)
    assert (found.line, found.column) == (1, 4)
    assert "no value beside it" in found.sentence
    assert "no probe's name beside it" in refusal(lines("0;;20,5"), profile, START).sentence


def test_an_open_profile_or_a_missing_start_is_refused_before_the_file():
    with pytest.raises(ProfileError, match="unit must be told first"):
        read(b"", dataclasses.replace(PLAIN, unit=None), started_at=None)
    with pytest.raises(ProfileError, match="say when it was started"):
        read(b"", LONG, started_at=None)
    with pytest.raises(ProfileError, match="no offset"):
        read(b"", LONG, started_at=START.replace(tzinfo=None))
