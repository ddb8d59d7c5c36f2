"""A reading profile is kept as JSON and refuses what could not be read."""

import json

import pytest

from service.readings.profile import Probe, ProfileError, ReadingProfile

WIDE = ReadingProfile(
    delimiter=";",
    decimal=",",
    header_line=3,
    header=("Date", "Time", "T1", "T2"),
    time_columns=(0, 1),
    time_kind="date_time",
    date_order="dmy",
    zone="Europe/Paris",
    probes=(Probe(name="spar root", column=2), Probe(name="air", column=3, unit="F")),
    unit="C",
    ignored_starts=("#", "End"),
)
LONG = ReadingProfile(
    delimiter="\t",
    time_columns=(0,),
    time_kind="epoch_ms",
    layout="long",
    name_column=1,
    value_column=2,
    unit="K",
    probes=(Probe(name="tip", label="CH 1"),),
)


@pytest.mark.parametrize("profile", [WIDE, LONG])
def test_a_profile_survives_being_kept_as_json(profile):
    assert ReadingProfile.from_dict(json.loads(json.dumps(profile.to_dict()))) == profile


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"delimiter": "/"}, "delimiter", "must be one of"),
        ({"decimal": "'"}, "decimal", "must be one of"),
        ({"time_kind": "moon"}, "time_kind", "date_time"),
        ({"date_order": "ydm"}, "date_order", "'ymd', 'dmy', 'mdy'"),
        ({"unit": "R"}, "unit", "'C', 'F', 'K'"),
        ({"zone": "Mars/Olympus"}, "zone", "Europe/Paris"),
        ({"zone": "+15:00"}, "zone", "+01:00"),
        ({"zone": "../secret"}, "zone", "time zone"),
        ({"header_line": 0}, "header_line", "from 1 to"),
        ({"header_line": True}, "header_line", "whole number"),
        ({"first_data_line": 3}, "first_data_line", "after header_line"),
        ({"time_columns": [0, 1, 2]}, "time_columns", "one column, or of two"),
        ({"time_columns": [-1]}, "time_columns", "from 0"),
        ({"time_columns": [1, 1]}, "time_columns", "twice"),
        ({"time_columns": "0"}, "time_columns", "a list"),
        ({"time_kind": "epoch_s"}, "time_columns", "stands in one"),
        ({"missing": [3]}, "missing", "words of at most 40"),
        ({"ignored_starts": [""]}, "ignored_starts", "empty word"),
        ({"header_line": None}, "header", "without header_line"),
        ({"layout": "long"}, "probes", "needs its label"),
        ({"layout": "pairs", "probes": []}, "layout", "pairs needs name_column alone"),
        ({"name_column": 5}, "layout", "wide needs neither"),
        ({"probes": [{"name": "a", "column": 1}]}, "layout", "two purposes"),
        ({"probes": [{"name": "a", "column": 2}, {"name": "a", "column": 3}]}, "probes", "same name"),
        ({"probes": [{"name": "a", "column": 2}, {"name": "b", "column": 2}]}, "probes", "same place"),
        ({"probes": [{"name": "", "column": 2}]}, "probes.name", "1 to 80"),
        ({"probes": [{"name": "a"}]}, "probes", "either its column or the label"),
        ({"probes": [{"column": 2}]}, "probes.name", "no name"),
        ({"probes": [7]}, "probes", "an object"),
        ({"colour": "red"}, "colour", "no field 'colour'"),
    ],
)
def test_what_cannot_be_read_is_refused_with_the_field_and_a_sentence(change, field, says):
    with pytest.raises(ProfileError) as refusal:
        ReadingProfile.from_dict({**WIDE.to_dict(), **change})
    assert refusal.value.field == field
    assert says in refusal.value.sentence


@pytest.mark.parametrize("plain", [None, [], "x", {}])
def test_something_else_than_a_profile_is_refused(plain):
    with pytest.raises(ProfileError):
        ReadingProfile.from_dict(plain)


def test_open_fields_name_what_is_still_to_be_told():
    assert WIDE.open_fields() == ()
    bare = ReadingProfile(delimiter=",", time_columns=(0,), time_kind="date_time")
    assert bare.open_fields() == ("date_order", "probes", "unit")
    assert ReadingProfile(delimiter=",").open_fields() == ("time_columns", "time_kind", "probes", "unit")


def test_units_of_all_probes_make_the_unit_of_the_file_unneeded():
    profile = ReadingProfile(
        delimiter=",", time_columns=(0,), time_kind="epoch_s", probes=(Probe(name="a", column=1, unit="F"),)
    )
    assert profile.open_fields() == ()
