"""Times of all kinds become UTC, through the changes of the clock, and never run backwards."""

import dataclasses
import datetime

import pytest

from service.readings.profile import Probe, ReadingProfile
from service.readings.read import UnreadableFile, read

UTC = datetime.UTC
START = datetime.datetime(2026, 11, 3, 7, 0, tzinfo=UTC)
BASE = ReadingProfile(
    delimiter=";",
    time_columns=(0,),
    time_kind="date_time",
    date_order="ymd",
    zone="Europe/Paris",
    probes=(Probe(name="a", column=1),),
    unit="C",
)


def times(stamps, started_at=None, **changes):
    profile = dataclasses.replace(BASE, **changes)
    raw = "\n".join(f"{stamp};{20 + i / 10:.1f}" for i, stamp in enumerate(stamps)).encode()
    return list(read(raw, profile, started_at=started_at).times)


def refused(stamps, **changes):
    with pytest.raises(UnreadableFile) as found:
        times(stamps, **changes)
    return found.value


def utc(text):
    return datetime.datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("stamp", "order", "expected"),
    [
        ("2026-11-03 08:05:07", "ymd", "2026-11-03T07:05:07"),
        ("2026-11-03T08:05:07.250", "ymd", "2026-11-03T07:05:07.250"),
        ("2026-11-03T08:05:07,25", "ymd", "2026-11-03T07:05:07.250"),
        ("2026-11-03T08:05Z", "ymd", "2026-11-03T08:05"),
        ("2026-11-03 08:05:00+05:30", "ymd", "2026-11-03T02:35"),
        ("20261103T080507", "ymd", "2026-11-03T07:05:07"),
        ("20261103080507", "ymd", "2026-11-03T07:05:07"),
        ("3/11/26 8:05", "dmy", "2026-11-03T07:05"),
        ("11/3/26 8:05 PM", "mdy", "2026-11-03T19:05"),
        ("11/3/2026 12:05 a.m.", "mdy", "2026-11-02T23:05"),
        ("03.11.2026 08.05.07", "dmy", "2026-11-03T07:05:07"),
        ("03.11.2026, 08:05", "dmy", "2026-11-03T07:05"),
        ("26/11/03 08:05", "ymd", "2026-11-03T07:05"),
        ("3-Nov-26 08:05", "dmy", "2026-11-03T07:05"),
        ("Tue Nov 3 2026 08:05", "mdy", "2026-11-03T07:05"),
        ("03.11.2026", "dmy", "2026-11-02T23:00"),
        ("2026-07-03 08:05", "ymd", "2026-07-03T06:05"),
    ],
)
def test_stamps_as_loggers_write_them(stamp, order, expected):
    # Paris is one hour ahead of UTC in winter, two in summer.
    assert times([stamp], date_order=order) == [utc(expected)]


def test_two_digit_years_are_of_this_century():
    assert times(["01/01/99 12:00"], date_order="dmy", zone="UTC") == [utc("2099-01-01T12:00")]


@pytest.mark.parametrize(
    ("kind", "stamps", "seconds"),
    [
        ("elapsed_ms", ["0", "90500"], 90.5),
        ("elapsed_s", ["0", "90.5"], 90.5),
        ("elapsed_min", ["0", "1.5"], 90),
        ("elapsed_h", ["0", "0.25"], 900),
        ("elapsed_hms", ["0:00", "0:15"], 900),
        ("elapsed_hms", ["00:00:00", "26:00:01"], 93601),
        ("elapsed_hms", ["00:00:00", "1 02:00:01"], 93601),
        ("elapsed_hms", ["00:00:00", "1.02:00:01.5"], 93601.5),
    ],
)
def test_elapsed_time_counts_from_the_start(kind, stamps, seconds):
    assert times(stamps, started_at=START, time_kind=kind) == [START, START + datetime.timedelta(seconds=seconds)]


def test_counts_since_1970():
    assert times(["1793692800.5"], time_kind="epoch_s") == [utc("2026-11-03T08:00:00.500")]
    assert times(["1793692800500"], time_kind="epoch_ms") == [utc("2026-11-03T08:00:00.500")]
    assert "outside the years" in refused(["1793692800500"], time_kind="epoch_s").sentence
    assert "outside the years" in refused(["1793692800"], time_kind="epoch_ms").sentence


def test_date_and_clock_in_two_columns():
    profile = dataclasses.replace(BASE, time_columns=(0, 1), probes=(Probe(name="a", column=2),))
    readings = read(b"2026-11-03;23:59:30;20\n2026-11-04;00:00:30;21\n", profile, started_at=None)
    assert readings.times == (utc("2026-11-03T22:59:30"), utc("2026-11-03T23:00:30"))


def test_a_clock_without_a_date_takes_its_day_from_the_start_and_passes_midnight():
    # 07:00 UTC on 3 November is 08:00 in Paris.
    found = times(["08:01", "20:00", "07:59", "08:02"], started_at=START, time_kind="time_of_day")
    assert found == [utc(t) for t in ("2026-11-03T07:01", "2026-11-03T19:00", "2026-11-04T06:59", "2026-11-04T07:02")]
    late = utc("2026-11-03T22:55")  # 23:55 in Paris; the logger's first reading comes after midnight
    assert times(["00:05"], started_at=late, time_kind="time_of_day") == [utc("2026-11-03T23:05")]


def test_a_fixed_offset_knows_no_summer_time():
    assert times(["2026-07-03 08:00"], zone="+01:00") == [utc("2026-07-03T07:00")]
    assert times(["2026-07-03 08:00"], zone="-03:30") == [utc("2026-07-03T11:30")]


# Clocks in Paris went back on 25 October 2026 at 03:00 summer time (01:00 UTC), and forward on 29 March 2026 at 02:00.
def autumn(*clocks):
    return [f"2026-10-25 {clock}" for clock in clocks]


def test_the_hour_that_autumn_repeats_is_told_apart_by_the_step_back():
    found = times(autumn("01:30", "02:00", "02:30", "02:00", "02:30", "03:00"))
    first = utc("2026-10-24T23:30")
    assert found == [first + datetime.timedelta(minutes=30 * i) for i in range(6)]


def test_an_hourly_logger_writes_the_hour_twice():
    found = times(autumn("00:00", "01:00", "02:00", "02:00", "03:00"))
    assert found == [utc("2026-10-24T22:00") + datetime.timedelta(hours=i) for i in range(5)]


def test_a_file_that_ends_in_the_repeated_hour_has_its_first_run_and_one_that_begins_its_second():
    assert times(autumn("01:50", "02:00", "02:10"))[-1] == utc("2026-10-25T00:10")
    assert times(autumn("02:40", "02:50", "03:00")) == [utc(f"2026-10-25T{t}") for t in ("01:40", "01:50", "02:00")]


def test_a_pause_in_the_repeated_hour_takes_up_the_missing_hour():
    stamps = autumn("01:40", "01:50", "02:00", "02:40", "02:50", "03:00", "03:10", "03:20", "03:30")
    assert times(stamps)[2:4] == [utc("2026-10-25T00:00"), utc("2026-10-25T01:40")]


def test_a_logger_whose_clock_does_not_go_back_needs_a_fixed_offset():
    found = refused(autumn("01:40", "01:50", "02:00", "02:10", "02:20", "02:30", "02:40", "02:50", "03:00", "03:10"))
    assert found.line == 3
    assert "fixed offset" in found.sentence
    assert "twice in Europe/Paris" in refused(autumn("02:10", "02:20")).sentence


def test_a_second_step_back_is_refused():
    found = refused(autumn("01:50", "02:30", "02:10", "02:40", "02:20", "03:00"))
    assert found.line == 5
    assert "backwards" in found.sentence


def test_a_time_that_spring_left_out_is_refused():
    found = refused(["2026-03-29 01:50", "2026-03-29 02:00", "2026-03-29 02:10"])
    assert (found.line, found.column) == (2, 1)
    assert "never was in Europe/Paris" in found.sentence
    assert times(["2026-03-29 01:59", "2026-03-29 03:00"]) == [utc("2026-03-29T00:59"), utc("2026-03-29T01:00")]


def test_stamps_with_offsets_pass_the_change_of_the_clock_without_a_zone():
    stamps = ["2026-10-25T02:30:00+02:00", "2026-10-25T02:00:00+01:00"]
    assert times(stamps, zone=None) == [utc("2026-10-25T00:30"), utc("2026-10-25T01:00")]


def test_stamps_without_offset_need_a_zone_and_may_not_be_mixed():
    assert "the profile names no zone" in refused(["2026-11-03 08:00"], zone=None).sentence
    mixed = refused(["2026-11-03T08:00Z", "2026-11-03T08:01"])
    assert (mixed.line, "the others carry one" in mixed.sentence) == (2, True)


def test_time_that_runs_backwards_is_refused():
    found = refused(["2026-11-03 08:00", "2026-11-03 08:02", "2026-11-03 08:01", "2026-11-03 08:03"])
    assert (found.line, found.column) == (3, 1)
    # As the file has it, on the clock of the logger.
    assert found.sentence == "The time runs backwards, from 2026-11-03 08:02:00 to 2026-11-03 08:01:00."


def test_a_logger_that_starts_anew_runs_backwards():
    assert refused(["0", "60", "120", "0", "60", "180"], time_kind="elapsed_s", started_at=START).line == 4


def test_the_newest_reading_first_is_turned_round():
    raw = b"2026-11-03 08:02;22\n2026-11-03 08:01;21\n2026-11-03 08:00;20\n"
    readings = read(raw, BASE, started_at=None)
    assert readings.probes["a"] == (20.0, 21.0, 22.0)
    assert readings.times[0] == utc("2026-11-03T07:00")
    assert "turned round" in readings.notes[0]


def test_an_equal_reading_repeated_counts_once():
    raw = b"2026-11-03 08:00:10;20\n2026-11-03 08:00:10;20\n2026-11-03 08:00:20;21\n"
    readings = read(raw, BASE, started_at=None)
    assert readings.probes["a"] == (20.0, 21.0)
    assert (readings.rows_read, len(readings.notes)) == (3, 1)


def test_one_time_with_two_values_is_refused():
    raw = b"2026-11-03 08:00:10;20\n2026-11-03 08:00:10;20.5\n2026-11-03 08:00:20;21\n"
    with pytest.raises(UnreadableFile, match="stands twice with different values") as found:
        read(raw, BASE, started_at=None)
    assert (found.value.line, found.value.column) == (2, 1)


def test_readings_within_a_minute_written_to_the_minute_are_spread_in_it():
    found = times(["2026-11-03 08:00"] * 2 + ["2026-11-03 08:01"] * 3)
    assert [(t.minute, t.second) for t in found] == [(0, 0), (0, 30), (1, 0), (1, 20), (1, 40)]
