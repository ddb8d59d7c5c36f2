"""Whatever a profile can describe is read back as it was written, and no bytes do worse than be refused."""

import datetime
import time
from contextlib import suppress

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.readings.profile import Probe, ReadingProfile
from service.readings.propose import propose
from service.readings.read import UnreadableFile, read

UTC = datetime.UTC
START = datetime.datetime(2026, 11, 3, 7, 0, tzinfo=UTC)
FORMS = {"ymd": "%Y-%m-%d", "dmy": "%d/%m/%y", "mdy": "%m/%d/%Y"}
SCALES = {
    "epoch_s": 1,
    "epoch_ms": 1000,
    "elapsed_ms": 1000,
    "elapsed_s": 1,
    "elapsed_min": 1 / 60,
    "elapsed_h": 1 / 3600,
}


@st.composite
def files(draw):
    """A profile, and a file written by it: (profile, raw, times, values in °C)."""
    layout = draw(st.sampled_from(["wide", "long", "pairs"]))
    delimiter = draw(st.sampled_from([",", ";", "\t", "|", " "]))
    decimal = draw(st.sampled_from([".", ","])) if delimiter != "," else "."
    kind = draw(st.sampled_from(["date_time", *SCALES, "elapsed_hms"]))
    order = draw(st.sampled_from(list(FORMS)))
    unit = draw(st.sampled_from(["C", "F", "K"]))
    two = kind == "date_time" and (delimiter == " " or draw(st.booleans()))
    names = [f"P{i}" for i in range(draw(st.integers(1, 4)))]
    steps = draw(st.lists(st.integers(1, 5000), min_size=1, max_size=20))
    seconds = [sum(steps[:i]) for i in range(len(steps))]
    tenths = st.none() | st.integers(-900, 5900)
    table = [[draw(tenths) for _ in names] for _ in seconds]

    def cell(value):
        if value is None:
            return "---"
        celsius = value / 10
        written = {"C": celsius, "F": celsius * 1.8 + 32, "K": celsius + 273.15}[unit]
        return f"{written:.3f}".replace(".", decimal)

    def stamp(offset):
        moment = START + datetime.timedelta(seconds=offset)
        if kind == "date_time":
            return [f"{moment:{FORMS[order]}}", f"{moment:%H:%M:%S}"]
        if kind == "elapsed_hms":
            return [f"{offset // 3600}:{offset // 60 % 60:02d}:{offset % 60:02d}"]
        begin = START.timestamp() if kind.startswith("epoch") else 0
        return [f"{(begin + offset) * SCALES[kind]:.7f}".replace(".", decimal)]

    lines = []
    first = 2 if two else 1
    for offset, row in zip(seconds, table, strict=True):
        when = stamp(offset) if two or len(stamp(offset)) == 1 else [" ".join(stamp(offset))]
        pairs = list(zip(names, map(cell, row), strict=True))
        if layout == "wide":
            lines.append([*when, *(value for _, value in pairs)])
        elif layout == "pairs":
            lines.append([*when, *(part for pair in pairs for part in pair)])
        else:
            lines += [[*when, *pair] for pair in pairs]
    titles = draw(st.lists(st.sampled_from(["oven 2", "Operator: Ana"]), max_size=2))
    raw = draw(st.sampled_from(["\n", "\r\n"])).join([*titles, *(delimiter.join(line) for line in lines), ""])
    profile = ReadingProfile(
        delimiter=delimiter,
        decimal=decimal,
        first_data_line=len(titles) + 1,
        time_columns=(0, 1) if two else (0,),
        time_kind=kind,
        date_order=order if kind == "date_time" else None,
        zone="UTC",
        layout=layout,
        probes=tuple(Probe(name=name, column=first + i) for i, name in enumerate(names)) if layout == "wide" else (),
        name_column=None if layout == "wide" else first,
        value_column=first + 1 if layout == "long" else None,
        unit=unit,
    )
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))
    values = {name: [row[i] for row in table] for i, name in enumerate(names)}
    return profile, raw.encode(encoding), [START + datetime.timedelta(seconds=s) for s in seconds], values


@pytest.mark.long
@given(files())
@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
def test_a_file_written_by_a_profile_is_read_back(case):
    profile, raw, times, values = case
    readings = read(raw, ReadingProfile.from_dict(profile.to_dict()), started_at=START)
    assert len(readings.times) == len(times)
    assert all(
        abs(got - given) < datetime.timedelta(milliseconds=2) for got, given in zip(readings.times, times, strict=True)
    )
    for name, column in values.items():
        for got, given_tenths in zip(readings.probes[name], column, strict=True):
            assert (got is None) == (given_tenths is None)
            assert got is None or abs(got - given_tenths / 10) <= 0.001
    assert readings.dropped_values == sum(column.count(None) for column in values.values())


PROFILES = [
    ReadingProfile(
        delimiter=delimiter,
        decimal=decimal,
        header_line=header,
        time_columns=(0,),
        time_kind=kind,
        date_order="dmy" if kind == "date_time" else None,
        zone="Europe/Paris",
        layout=layout,
        probes=(Probe(name="a", column=1),) if layout == "wide" else (),
        name_column=None if layout == "wide" else 1,
        value_column=2 if layout == "long" else None,
        unit="F",
    )
    for delimiter, decimal, header, kind, layout in (
        (";", ",", None, "date_time", "wide"),
        (" ", ".", 1, "elapsed_hms", "wide"),
        (",", ".", None, "epoch_ms", "long"),
        ("\t", ".", None, "time_of_day", "pairs"),
        (",", ".", 1, "elapsed_h", "wide"),
    )
]
PIECES = st.sampled_from(
    [b"03.11.26 08:00", b"25.10.26 02:30", b"08:00", b"1793692800000", b"21,5", b"-4.5", b"nan", b"T1", b"\xb0F", b'"',
     b",", b";", b"\t", b" ", b"|", b"\n", b"\r", b"#", b"0", b"7", b"12", b"99999", b"\xff\xfe", b"Time", b"sep=;"]
)  # fmt: skip
ALMOST = st.lists(PIECES, max_size=60).map(b"".join)


@pytest.mark.long
@given(st.binary(max_size=400) | ALMOST, st.sampled_from(PROFILES))
@settings(max_examples=600, deadline=None)
def test_no_bytes_do_worse_than_be_refused(raw, profile):
    with suppress(UnreadableFile):
        readings = read(raw, profile, started_at=START)
        assert list(readings.times) == sorted(set(readings.times))
        assert all(len(values) == len(readings.times) for values in readings.probes.values())
    with suppress(UnreadableFile):
        propose(raw)


@pytest.mark.long
def test_fifty_thousand_rows_are_read_within_a_few_seconds():
    first = datetime.datetime(2026, 11, 3, 8, 0)  # noqa: DTZ001 - the logger's clock
    raw = "\n".join(
        f"{first + datetime.timedelta(seconds=10 * i):%d.%m.%Y %H:%M:%S};"
        + ";".join(f"{i * 7 % 997 / 10:.1f}" for _ in "1234")
        for i in range(50_000)
    ).encode()
    profile = ReadingProfile(
        delimiter=";",
        time_columns=(0,),
        time_kind="date_time",
        date_order="dmy",
        zone="Europe/Paris",
        probes=tuple(Probe(name=f"P{i}", column=i) for i in range(1, 5)),
        unit="C",
    )
    begin = time.perf_counter()
    readings = read(raw, profile, started_at=None)
    # Measured about 0.3 s; the limit leaves room for a busy machine and still fails on a quadratic step.
    assert time.perf_counter() - begin < 5
    assert len(readings.times) == 50_000
