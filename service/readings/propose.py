"""The preview: what a file tells of itself, and what a person must still say.

A proposal stores nothing and guesses nothing silently: what the file shows is listed in sentences, and what it
doesn't show is a question. A field with a question is left open in the profile, so nothing can be read by accident.
"""

from collections import Counter
from dataclasses import dataclass, replace

from .asking import Question, TimeFound, date_order, elapsed_kind
from .heading import Heading, find_heading
from .places import Places, find_places
from .profile import NEEDS_ZONE, UNITS, ReadingProfile, Unit
from .sniff import Table, epoch_kind, find_table, is_missing, numbers_in
from .stamps import clock, split_stamp
from .temperatures import number
from .text import Text, UnreadableFile, decode, shown, splitter, times
from .words import date_order_in, is_index, is_time, unit_in_titles, zone_in, zone_in_title

__all__ = ["Proposal", "Question", "SampleRow", "UnreadableFile", "propose"]

_SAMPLE_ROWS = 8
_DELIMITER_NAMES = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright bars", " ": "white space"}


@dataclass(frozen=True)
class SampleRow:
    """A row as the proposed profile reads it: the time as written, the values as numbers in the file's unit."""

    line: int
    time: str
    values: dict[str, float | None]


@dataclass(frozen=True)
class Proposal:
    profile: ReadingProfile
    found: tuple[str, ...]
    open_questions: tuple[Question, ...]
    sample: tuple[SampleRow, ...]


def propose(raw: bytes) -> Proposal:
    """Find out what a file tells, and ask for the rest. Raises ``UnreadableFile`` if it is no table of readings."""
    text = decode(raw)
    table = find_table(text)
    heading = find_heading(text, table)
    _refuse_commas_for_both(table, heading)
    found = [
        f"The text is {text.encoding}.",
        f"The columns are separated by {_DELIMITER_NAMES[table.delimiter]}.",
        f"The decimal sign is a {'comma' if table.decimal == ',' else 'point'}."
        if _has_decimals(table)
        else "No number has decimals.",
        *heading.found,
    ]
    rows = _all_rows(text, table)
    time = _time(table, heading, rows)
    table = replace(table, time_columns=time.columns)
    places = find_places(table, heading, rows)
    unit = _unit(table, heading, places)
    zone = _zone(table, heading, time)
    missing = _missing(table, places, rows)
    starts, footer = _footer(text, table, rows)
    found += [*time.found, *places.found, *unit.found, *zone.found, *missing.found, *footer]
    questions = [*time.questions, *places.questions, *unit.questions, *zone.questions, *missing.questions]
    profile = ReadingProfile(
        delimiter=table.delimiter,
        decimal=table.decimal,
        header_line=heading.line,
        header=heading.cells if heading.line else (),
        first_data_line=None if heading.line and table.first == heading.line + 1 else table.first,
        time_columns=time.columns,
        time_kind=time.kind,
        date_order=time.order,
        zone=zone.answer,
        layout=places.layout,
        probes=places.probes,
        name_column=places.name_column,
        value_column=places.value_column,
        unit=unit.unit,
        ignored_starts=starts,
    )
    return Proposal(
        profile=profile, found=tuple(found), open_questions=tuple(questions), sample=_sample(table, profile)
    )


@dataclass(frozen=True)
class _Answer:
    found: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()
    answer: str | None = None
    unit: Unit | None = None


def _refuse_commas_for_both(table: Table, heading: Heading) -> None:
    """1,5 and 2,5 between commas are four numbers: a header with half the columns shows it."""
    named, width, times = heading.named, len(table.kinds), len(table.time_columns)
    if table.delimiter != "," or _has_decimals(table) or named <= times:
        return
    if width - times == 2 * (named - times):
        raise UnreadableFile(
            f"The rows have {width} columns and the header has {named}: commas stand both between the columns and in "
            "the numbers. Set the logger to separate columns by semicolons.",
            heading.named_line,
            named,
        )


def _has_decimals(table: Table) -> bool:
    places = [i for i, kind in enumerate(table.kinds) if kind == "number" and i not in table.time_columns]
    return any(table.decimal in cells[place] for _, cells in table.rows for place in places)


def _all_rows(text: Text, table: Table) -> list[tuple[int, list[str]]]:
    """All lines from the first reading on that are as wide as the readings."""
    split, width = splitter(table.delimiter), len(table.kinds)
    rows = ((n, split(line)) for n, line in enumerate(text.lines[table.first - 1 :], table.first) if line.strip())
    return [(line, cells) for line, cells in rows if len(cells) == width]


def _time(table: Table, heading: Heading, rows: list[tuple[int, list[str]]]) -> TimeFound:
    columns = _better_time_columns(table, heading)
    column = columns[0]
    title = heading.cells[column].strip()
    name = f"column {column + 1}" + (f" ({title[:40]})" if title else "")
    header = " ".join(heading.cells[place] for place in columns)
    kind = table.kinds[column]
    if kind in ("date_time", "date"):
        where = f"columns {columns[0] + 1} and {columns[1] + 1}" if len(columns) == 2 else name
        dates = [cells[column].strip() for _, cells in rows]
        if len(columns) == 1:
            dates = [stamp[0] if (stamp := split_stamp(cell)) else cell for cell in dates]
        order = date_order(dates, date_order_in(header), columns)
        return replace(
            order, columns=columns, kind="date_time", found=(f"Date and time stand in {where}.", *order.found)
        )
    cells = table.column(column)
    if kind == "number":
        numbers = numbers_in(cells, table.decimal)
        epoch = epoch_kind(numbers)
        if epoch:
            unit = "seconds" if epoch == "epoch_s" else "milliseconds"
            return TimeFound(columns=columns, kind=epoch, found=(f"C{name[1:]} counts {unit} since 1970.",))
    return elapsed_kind(kind == "clock", cells, heading.cells[column], columns, name)


def _better_time_columns(table: Table, heading: Heading) -> tuple[int, ...]:
    """Among several columns that could tell the time, the one whose header says so."""
    place = table.time_columns[0]
    cells = heading.cells
    if table.kinds[place] == "date_time":
        stamps = [i for i, kind in enumerate(table.kinds) if kind == "date_time"]
        return (next((i for i in stamps if zone_in(cells[i]) == "UTC"), place),)
    if table.kinds[place] != "number" or epoch_kind(numbers_in(table.column(place), table.decimal)):
        return table.time_columns
    named = [i for i in table.counting if is_time(cells[i]) and not is_index(cells[i])]
    others = [i for i in table.counting if not is_index(cells[i])]
    return ((named or others or [place])[0],)


def _unit(table: Table, heading: Heading, places: Places) -> _Answer:
    own = {probe.unit for probe in places.probes if probe.unit}
    if own:
        bare = [probe.name for probe in places.probes if not probe.unit]
        sentence = f"The file names no unit for {', '.join(bare[:12])}. Which is it?"
        return _Answer(
            found=tuple(f"{p.name} is in {_degrees(p.unit)}." for p in places.probes if p.unit),
            questions=(Question("unit", sentence, UNITS),) if bare else (),
        )
    if places.unit:
        return _Answer(unit=places.unit, found=(f"The unit is {_degrees(places.unit)}, as the file says.",))
    values = sorted(places.values)
    typical = values[len(values) // 2] if values else None
    unit = unit_in_titles(heading.titles, typical)
    if unit:
        return _Answer(unit=unit, found=(f"The unit is {_degrees(unit)}, as the title lines say.",))
    span = f"The values run from {values[0]:g} to {values[-1]:g}" if values else "The file has no values"
    return _Answer(questions=(Question("unit", f"{span}, and the file names no unit. Which is it?", UNITS),))


def _degrees(unit: str | None) -> str:
    return {"C": "°C", "F": "°F", "K": "kelvin"}[unit or "C"]


def _zone(table: Table, heading: Heading, time: TimeFound) -> _Answer:
    clock_column = time.columns[-1]
    if time.kind is not None and time.kind not in NEEDS_ZONE:
        return _Answer()
    if time.kind is None and not time.may_need_zone:
        return _Answer()
    cells = table.column(clock_column)
    times = [stamp[1] if (stamp := split_stamp(cell)) else clock(cell) for cell in cells]
    if times and all(time is not None and time[1] is not None for time in times):
        return _Answer(found=("Each time carries its offset from UTC.",))
    for place, text in ((place, heading.cells[place]) for place in time.columns):
        if zone := zone_in(text):
            return _Answer(answer=zone, found=(f"The header of column {place + 1} says that times are in {zone}.",))
    for line in heading.titles:
        if zone := zone_in_title(line):
            return _Answer(answer=zone, found=(f"The title line {shown(line)} says that times are in {zone}.",))
    return _Answer(
        questions=(
            Question(
                "zone",
                "The times carry no offset from UTC. Which zone is the logger's clock set to? If it keeps one time "
                "all year, give the offset, such as +01:00.",
                (),
            ),
        )
    )


def _missing(table: Table, places: Places, rows: list[tuple[int, list[str]]]) -> _Answer:
    known: Counter[tuple[str, int]] = Counter()
    unknown: Counter[tuple[str, int]] = Counter()
    for place in places.value_columns:
        for text, count in Counter(cells[place].strip() for _, cells in rows).items():
            if is_missing(text):
                known[text, place] += count
                continue
            try:
                number(text, table.decimal)
            except ValueError:
                if len(text) <= 20:
                    unknown[text, place] += count
    found = tuple(
        f"{shown(text) if text else 'An empty cell'} stands for no value in column {place + 1}, {times(count)}."
        for (text, place), count in known.most_common(5)
    )
    if not unknown:
        return _Answer(found=found)
    (text, place), count = unknown.most_common(1)[0]
    words = tuple(dict.fromkeys(text for (text, _), _ in unknown.most_common(10)))
    sentence = f"{shown(text)} stands in column {place + 1}, {times(count)}, and is no number. Does it mean no value?"
    return _Answer(found=found, questions=(Question("missing", sentence, words),))


def _footer(text: Text, table: Table, rows: list[tuple[int, list[str]]]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Lines after the last reading, and remarks among them, as the words that they begin with."""
    last = max((line for line, _ in table.rows), default=table.first)
    last = max(last, max((line for line, _ in rows), default=0))
    starts: list[str] = []
    for line in text.lines[table.first - 1 : last]:
        if line.startswith("#") and "#" not in starts:
            starts.append("#")
    cut_short = not text.ends_with_line_break
    for number_, line in enumerate(text.lines[last:], last + 1):
        if not line.strip() or (cut_short and number_ == len(text.lines) and line[:1].isdigit()):
            continue
        start = splitter(table.delimiter)(line)[0].strip()[:40] if line.strip() else ""
        if start and not start[0].isdigit() and start not in starts and len(starts) < 20:
            starts.append(start)
    return tuple(starts), tuple(f"Lines that begin with {shown(start)} are left out." for start in starts)


def _sample(table: Table, profile: ReadingProfile) -> tuple[SampleRow, ...]:
    sample = []
    for line, cells in table.rows[:_SAMPLE_ROWS]:
        values: dict[str, float | None] = {}
        if profile.layout == "wide":
            pairs = [(probe.name, cells[probe.column or 0]) for probe in profile.probes]
        else:
            names = {str(probe.label).casefold(): probe.name for probe in profile.probes}
            first = profile.name_column or 0
            last = first + 1 if profile.layout == "long" else len(cells)
            value = (profile.value_column or 0) - first if profile.layout == "long" else 1
            pairs = [
                (names[cells[place].strip().casefold()], cells[place + value])
                for place in range(first, last, 2)
                if cells[place].strip().casefold() in names and place + value < len(cells)
            ]
        for name, cell in pairs:
            numbers = numbers_in([cell], table.decimal)
            values[name] = numbers[0] if numbers else None
        time = " ".join(cells[place].strip() for place in profile.time_columns)
        sample.append(SampleRow(line=line, time=time, values=values))
    return tuple(sample)
