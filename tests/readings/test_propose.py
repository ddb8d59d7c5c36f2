"""The preview finds out what a logger's file tells, and asks for what it doesn't.

The files are written for these tests; the oddities are those of loggers in use (common practice, no source).
"""

import dataclasses
import datetime

import pytest

from service.readings.profile import Probe
from service.readings.propose import propose
from service.readings.read import UnreadableFile, read

START = datetime.datetime(2026, 11, 3, 7, 0, tzinfo=datetime.UTC)


def rows(form, count=10):
    """Lines made from a form with {i} for the row and {m:02d} for its minute."""
    return "\n".join(form.format(i=i, m=i) for i in range(count)) + "\n"


def asked(proposal):
    return {question.field: question for question in proposal.open_questions}


def names(proposal):
    return [probe.name for probe in proposal.profile.probes]


def answered(proposal, **answers):
    open_fields = set(asked(proposal))
    assert open_fields == set(answers)
    return dataclasses.replace(proposal.profile, **answers)


def test_a_plain_file_needs_only_its_zone():
    proposal = propose(b"Time,T1 (\xc2\xb0C),T2 (\xc2\xb0C)\n" + rows("2026-11-03 08:{m:02d}:00,2{i}.5,---").encode())
    profile = proposal.profile
    assert (profile.delimiter, profile.decimal, profile.layout, profile.unit) == (",", ".", "wide", "C")
    assert (profile.time_columns, profile.time_kind, profile.date_order) == ((0,), "date_time", "ymd")
    assert profile.probes == (Probe(name="T1", column=1), Probe(name="T2", column=2))
    assert profile.header == ("Time", "T1 (°C)", "T2 (°C)")
    assert list(asked(proposal)) == ["zone"]
    assert profile.zone is None
    assert any("“---” stands for no value in column 3, 10 times" in sentence for sentence in proposal.found)
    assert proposal.sample[1].values == {"T1": 21.5, "T2": None}
    assert (proposal.sample[1].line, proposal.sample[1].time) == (3, "2026-11-03 08:01:00")


def test_titles_semicolons_decimal_commas_and_two_date_columns():
    titles = "Heron Yard, oven 2\nSerial;4711\nInterval;60 s\n\n"
    raw = titles + "Datum;Zeit;Kern;Rand;Batt V\n" + rows("13.11.26;08:{m:02d}:00;2{i},5;21,0;3,1")
    proposal = propose(raw.encode())
    profile = answered(proposal, unit="C", zone="Europe/Berlin")
    assert (profile.delimiter, profile.decimal, profile.header_line) == (";", ",", 5)
    assert (profile.time_columns, profile.date_order) == ((0, 1), "dmy")
    assert names(proposal) == ["Kern", "Rand"]
    assert any("Batt V" in sentence and "left out" in sentence for sentence in proposal.found)
    readings = read(raw.encode(), profile, started_at=None)
    assert readings.times[0] == datetime.datetime(2026, 11, 13, 7, 0, tzinfo=datetime.UTC)
    assert readings.probes["Kern"][:2] == (20.5, 21.5)


@pytest.mark.parametrize(
    ("encode", "said"),
    [
        (lambda text: text.encode("utf-8-sig"), "UTF-8 with a byte order mark"),
        (lambda text: text.encode("utf-16"), "UTF-16"),
        (lambda text: text.encode("cp1252"), "Windows-1252"),
        (lambda text: text.encode(), "UTF-8"),
    ],
)
def test_the_encoding_is_found_and_the_degree_sign_with_it(encode, said):
    proposal = propose(encode("Time;spar °F\n" + rows("2026-11-03T08:{m:02d}:00Z;7{i},5")))
    assert f"The text is {said}." in proposal.found
    assert proposal.profile.unit == "F"
    assert proposal.open_questions == ()
    assert names(proposal) == ["spar"]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|", "   "])
def test_each_delimiter_is_found(delimiter):
    line = delimiter.join(["2026-11-03T08:{m:02d}:00Z", "2{i}.5", "21.0"])
    proposal = propose(rows(line).encode())
    assert proposal.profile.delimiter == delimiter[0]
    assert names(proposal) == ["Probe 1", "Probe 2"]
    assert proposal.profile.header_line is None


def test_a_line_that_names_the_separator_is_believed():
    raw = "sep=;\nTime;T1 °C\n" + rows("2026-11-03T08:{m:02d}:00Z;2{i},5")
    proposal = propose(raw.encode())
    assert (proposal.profile.delimiter, proposal.profile.header_line) == (";", 2)


def test_white_space_between_date_and_clock_makes_two_time_columns():
    proposal = propose(rows("2026-11-03 08:{m:02d}:00  2{i}.5  21.0").encode())
    assert proposal.profile.delimiter == " "
    assert proposal.profile.time_columns == (0, 1)


@pytest.mark.parametrize(
    ("dates", "order"),
    [
        (("13/11/2026", "14/11/2026"), "dmy"),
        (("11/13/2026", "11/14/2026"), "mdy"),
        (("2026/11/03", "2026/11/04"), "ymd"),
        (("3-Nov-2026", "4-Nov-2026"), "dmy"),
        (("Nov 3 2026", "Nov 4 2026"), "mdy"),
        (("31/10/26", "01/11/26"), "dmy"),
        (("10/31/26", "11/01/26"), "mdy"),
        (("20261103", "20261104"), "ymd"),
    ],
)
def test_the_order_of_dates_is_told_where_the_dates_prove_it(dates, order):
    text = "\n".join(f"{date};08:{m:02d}:00;21.5;22.5" for date in dates for m in range(4))
    proposal = propose(text.encode())
    assert proposal.profile.date_order == order
    assert "date_order" not in asked(proposal)


def test_the_order_of_dates_is_asked_where_nothing_proves_it():
    proposal = propose(rows("03/11/2026 08:{m:02d},2{i}.5").encode())
    question = asked(proposal)["date_order"]
    assert question.choices == ("dmy", "mdy")
    assert "3 November 2026 (dmy) or 11 March 2026 (mdy)" in question.sentence
    assert proposal.profile.date_order is None


def test_time_that_would_run_backwards_proves_the_order():
    # As month first these were 10 November, 10 December and then 11 January of the same year.
    text = "".join(f"{date} 08:00;21.5\n" for date in ("11/10/2026", "12/10/2026", "01/11/2026"))
    assert propose(text.encode()).profile.date_order == "dmy"


def test_the_header_names_the_order_and_the_zone():
    proposal = propose(('"Date Time (MM/DD/YY), GMT+01:00","Temp, °F"\n' + rows("11/03/26 08:{m:02d},7{i}.5")).encode())
    assert (proposal.profile.date_order, proposal.profile.zone, proposal.profile.unit) == ("mdy", "+01:00", "F")
    assert proposal.open_questions == ()
    assert names(proposal) == ["Temp"]


def test_title_lines_name_the_zone_and_the_unit():
    raw = "Unit: °C\nTime zone: Europe/Berlin\nStamp|A|B\n" + rows("2026/11/03 08:{m:02d}|2{i}.5|21")
    proposal = propose(raw.encode())
    assert (proposal.profile.zone, proposal.profile.unit) == ("Europe/Berlin", "C")
    assert proposal.open_questions == ()


@pytest.mark.parametrize(("first", "step", "kind"), [(1793692800, 60, "epoch_s"), (1793692800000, 60000, "epoch_ms")])
def test_counts_since_1970_are_found_and_need_no_zone(first, step, kind):
    proposal = propose("\n".join(f"{first + i * step},2{i}.5" for i in range(9)).encode())
    assert proposal.profile.time_kind == kind
    assert list(asked(proposal)) == ["unit"]
    readings = read(proposal_raw(first, step), dataclasses.replace(proposal.profile, unit="C"), started_at=None)
    # 1793692800 s is 2026-11-03 08:00 UTC (20760 days and 8 h after 1970-01-01).
    assert readings.times[0] == datetime.datetime(2026, 11, 3, 8, 0, tzinfo=datetime.UTC)


def proposal_raw(first, step):
    return "\n".join(f"{first + i * step},2{i}.5" for i in range(9)).encode()


@pytest.mark.parametrize(
    ("header", "kind"),
    [
        ("Elapsed (s)", "elapsed_s"),
        ("Time (ms)", "elapsed_ms"),
        ("millis", "elapsed_ms"),
        ("t_ms", "elapsed_ms"),
        ("Time [min]", "elapsed_min"),
        ("t_h", "elapsed_h"),
        ("elapsed hours", "elapsed_h"),
    ],
)
def test_elapsed_time_in_the_unit_that_the_header_names(header, kind):
    proposal = propose((f"No.,{header},T1 degC\n" + rows("{i},{m}.5,2{i}.5")).encode())
    assert (proposal.profile.time_kind, proposal.profile.time_columns) == (kind, (1,))
    assert proposal.open_questions == ()
    assert names(proposal) == ["T1"]


def test_a_count_without_a_unit_is_asked():
    proposal = propose("\n".join(f"{i * 30} {20 + i}.5 21.0" for i in range(9)).encode())
    assert asked(proposal)["time_kind"].choices == ("elapsed_s", "elapsed_min", "elapsed_h", "elapsed_ms")
    assert proposal.profile.time_kind is None


def test_elapsed_hours_minutes_and_seconds():
    proposal = propose(("Run time;T1 °C\n" + rows("00:{m:02d}:00;2{i},5")).encode())
    assert proposal.profile.time_kind == "elapsed_hms"
    assert proposal.open_questions == ()


@pytest.mark.parametrize(
    "header", ["SP °C", "Set point", "PID error", "Output", "Out 1 (°C)", "Deviation °C", "oven_sv", "Programme step"]
)
def test_what_a_controller_sets_is_asked_about_and_taken_as_no_probe(header):
    raw = (f"Time;Part °C;{header}\n" + rows("2026-11-03T08:{m:02d}:00Z;2{i},5;60,0")).encode()
    proposal = propose(raw)
    assert names(proposal) == ["Part"]
    question = asked(proposal)["probes"]
    assert question.choices == (header,)
    assert header in question.sentence
    assert question.sentence.endswith("Is it one?")


def test_what_a_controller_sets_is_asked_about_where_a_column_names_the_probes():
    lines = [f"2026-11-03T08:{m:02d}:00Z;{name};2{m},5" for m in range(9) for name in ("root", "SP", "error")]
    proposal = propose(("Time;Channel;Value °C\n" + "\n".join(lines)).encode())
    assert proposal.profile.probes == (Probe(name="root", label="root"),)
    assert asked(proposal)["probes"].choices == ("SP", "error")


@pytest.mark.parametrize("header", ["stepped heel", "outer skin", "Coset", "spar", "PV"])
def test_a_probe_whose_name_only_begins_like_a_controllers_is_a_probe(header):
    proposal = propose((f"Time;{header} °C\n" + rows("2026-11-03T08:{m:02d}:00Z;2{i},5")).encode())
    assert names(proposal) == [header]
    assert "probes" not in asked(proposal)


def test_a_clock_without_a_date_is_asked():
    proposal = propose(("Time;T1 °C\n" + rows("08:{m:02d}:00;2{i},5")).encode())
    assert asked(proposal)["time_kind"].choices == ("time_of_day", "elapsed_hms")
    assert "zone" in asked(proposal)


def test_a_long_file_names_its_probes_in_a_column():
    lines = [f"2026-11-03T08:{m:02d}:00Z;{name};2{m},5" for m in range(9) for name in ("root", "tip", "RH %")]
    proposal = propose(("Time;Channel;Value °C\n" + "\n".join(lines)).encode())
    profile = proposal.profile
    assert (profile.layout, profile.name_column, profile.value_column, profile.unit) == ("long", 1, 2, "C")
    assert profile.probes == (Probe(name="root", label="root"), Probe(name="tip", label="tip"))
    assert "“RH %” is left out." in proposal.found
    assert proposal.sample[1].values == {"tip": 20.5}


def test_channel_numbers_are_names_too():
    lines = [f"2026-11-03T08:{m:02d}:00Z,{channel},2{m}.5" for m in range(9) for channel in (1, 2, 3)]
    proposal = propose(("Time,Channel,Temp C\n" + "\n".join(lines)).encode())
    assert proposal.profile.layout == "long"
    assert names(proposal) == ["1", "2", "3"]


def test_probe_names_between_the_values():
    proposal = propose(rows("2026-11-03T08:{m:02d}:00Z;root;2{i},5;tip;21,0").encode())
    assert (proposal.profile.layout, proposal.profile.name_column) == ("pairs", 1)
    assert names(proposal) == ["root", "tip"]
    assert proposal.sample[0].values == {"root": 20.5, "tip": 21.0}


def test_a_line_of_units_below_the_header_and_a_closing_line():
    raw = "Date;Time;T1;T2;RH\n;;°C;°C;%\n" + rows("2026-11-03;08:{m:02d}:00;2{i},5;21,0;50") + "End of data\n"
    proposal = propose(raw.encode())
    profile = answered(proposal, zone="UTC")
    assert (profile.header_line, profile.first_data_line, profile.unit) == (1, 3, "C")
    assert profile.ignored_starts == ("End of data",)
    assert names(proposal) == ["T1", "T2"]
    assert len(read(raw.encode(), profile, started_at=None).times) == 10


def test_columns_with_their_own_units():
    proposal = propose(("Time;oven °F;part °C\n" + rows("2026-11-03T08:{m:02d}:00Z;14{i},5;6{i},0")).encode())
    assert proposal.profile.unit is None
    assert [probe.unit for probe in proposal.profile.probes] == ["F", "C"]
    assert proposal.open_questions == ()


def test_letters_that_number_probes_and_kinds_of_thermocouple_are_no_units():
    stamp = "2026-11-03T08:{m:02d}:00Z"
    lettered = propose((f"Time;Probe (B);Probe (C)\n{rows(stamp + ';2{i},5;21,0')}").encode())
    assert list(asked(lettered)) == ["unit"]
    thermocouple = propose((f"Time;Probe (K)\n{rows(stamp + ';2{i},5')}").encode())
    assert list(asked(thermocouple)) == ["unit"]
    assert "from 20.5 to 29.5" in asked(thermocouple)["unit"].sentence


def test_title_lines_that_only_mention_a_temperature_or_a_time_decide_nothing():
    raw = "Post-cure 60 °C\nexported 2026-11-05 10:00 UTC\nTime;T1\n" + rows("2026-11-03 08:{m:02d};13{i},5")
    assert list(asked(propose(raw.encode()))) == ["unit", "zone"]


def test_a_probe_that_was_plugged_in_late_is_found():
    text = [f"{i // 60}:{i % 60:02d}:00;20.5;{'' if i < 500 else '21.5'}" for i in range(1000)]
    assert names(propose("\n".join(text).encode())) == ["Probe 1", "Probe 2"]


def test_an_unnamed_column_that_numbers_the_rows_is_left_out():
    proposal = propose("\n".join(f"{i + 1}\t2026-11-03 08:{i:02d}\t21.5" for i in range(9)).encode())
    assert [probe.column for probe in proposal.profile.probes] == [2]


def test_an_unknown_word_among_the_values_is_asked():
    raw = "Time;T1 °C\n" + rows("2026-11-03T08:{m:02d}:00Z;2{i},5") + "2026-11-03T09:00:00Z;#BRK\n"
    proposal = propose(raw.encode())
    assert asked(proposal)["missing"].choices == ("#BRK",)
    with pytest.raises(UnreadableFile) as refusal:
        read(raw.encode(), proposal.profile, started_at=None)
    assert (refusal.value.line, refusal.value.column) == (12, 2)


def test_two_columns_of_one_name_get_two_names():
    proposal = propose(("Time;Temp °C;Temp °C\n" + rows("2026-11-03T08:{m:02d}:00Z;2{i},5;21,0")).encode())
    assert names(proposal) == ["Temp", "Temp 2"]


@pytest.mark.parametrize("header", ["Time,T1,T2", "Time,T1"])
def test_commas_between_columns_and_in_numbers_are_refused(header):
    values = ",".join(["2{i},5"] * header.count("T1") + ["21,0"] * header.count("T2"))
    with pytest.raises(UnreadableFile, match="commas stand both between the columns and in the numbers") as refusal:
        propose((f"{header}\n" + rows("2026-11-03 08:{m:02d}:00," + values)).encode())
    assert refusal.value.line == 1


@pytest.mark.parametrize("raw", [b"Dear all,\nthe oven is on.\n", b"1,2,3\n", b"a;b\n2026-11-03 08:00;x\n"])
def test_a_text_without_readings_is_refused(raw):
    with pytest.raises(UnreadableFile, match="holds a time and a temperature"):
        propose(raw)


def test_a_complete_proposal_reads_the_file_that_it_was_made_from():
    raw = ("#;Elapsed min;T1 °C;T2 °C\n" + rows("{i};{m};2{i},5;OL")).encode()
    proposal = propose(raw)
    assert proposal.open_questions == ()
    readings = read(raw, proposal.profile, started_at=START)
    assert readings.times[3] == START + datetime.timedelta(minutes=3)
    assert readings.dropped_values == 10
