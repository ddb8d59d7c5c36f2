"""Where the probes are: a column each, or a column with their names."""

import itertools
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from .asking import Question
from .heading import Heading
from .profile import Layout, Probe, Unit
from .sniff import Table, numbers_in
from .temperatures import number
from .text import shown
from .words import is_gauge, is_index, is_label_column, is_no_probe, is_of_controller, is_unit_cell, probe_name, unit_in

_MOST_LABELS = 64
_STATUS = frozenset(
    {"ok", "good", "valid", "alarm", "c", "f", "°c", "°f", "degc", "degf", "on", "off", "normal", "lo", "hi"}
)


@dataclass(frozen=True)
class Places:
    layout: Layout
    probes: tuple[Probe, ...]
    found: tuple[str, ...]
    values: tuple[float, ...]
    value_columns: tuple[int, ...]
    unit: Unit | None = None
    name_column: int | None = None
    value_column: int | None = None
    questions: tuple[Question, ...] = ()


def find_places(table: Table, heading: Heading, rows: Sequence[tuple[int, list[str]]]) -> Places:
    left = [place for place in range(len(table.kinds)) if place not in table.time_columns]
    first = _first_pair(table, left)
    if first is not None:
        return _pairs(table, rows, first)
    left_out: list[str] = []
    values: list[int] = []
    asked: list[str] = []
    for place in left:
        kind, why = table.kinds[place], _why_no_probe(table, heading, place)
        if not why and kind == "number" and is_of_controller(heading.cells[place]):
            asked.append(heading.cells[place].strip()[:80])
        elif not why and (kind == "number" or (kind == "none" and _all_dropped(table, place))):
            values.append(place)
        elif why or heading.cells[place]:
            name = shown(heading.cells[place]) if heading.cells[place] else "without a name"
            left_out.append(f"Column {place + 1}, {name}, is left out{why}.")
    label = _label_column(table, heading, left, values)
    if label is not None:
        value = next(place for place in values if place != label)
        return _long(table, heading, rows, label, value)
    return _wide(table, heading, values, left_out, asked)


def _of_controller(names: Sequence[str]) -> tuple[Question, ...]:
    """What may be a set point, an output or an error is taken as no probe until a person has said that it is one."""
    if not names:
        return ()
    told = ", ".join(shown(name) for name in names)
    looks, none, is_it = ("looks", "is no probe", "Is it") if len(names) == 1 else ("look", "are no probes", "Is any")
    sentence = (
        f"{told} {looks} like what a controller sets or works out, not like a temperature that was measured, and "
        f"{none} here. {is_it} one?"
    )
    return (Question("probes", sentence, tuple(names[:20])),)


def _why_no_probe(table: Table, heading: Heading, place: int) -> str:
    header = heading.cells[place]
    unit = heading.units[place] if heading.units else ""
    if is_index(header):
        return ": it numbers the rows"
    if is_no_probe(header) or (unit and is_unit_cell(unit) and is_no_probe(unit)):
        if is_gauge(header) or is_gauge(unit):
            return (
                ": it is a gauge; to have vacuum or pressure judged, add it to the probes with its unit, such as mbar"
            )
        return ": its name is not that of a temperature"
    cells = numbers_in(table.column(place), table.decimal)
    steps = [later - earlier for earlier, later in itertools.pairwise(cells[:100])]
    if not header and len(cells) > 2 and set(steps) == {1.0} and all(value == int(value) for value in cells):
        return ": it numbers the rows"
    if cells and min(cells) > 5000:
        return ": its values are no temperatures"
    return ""


def _all_dropped(table: Table, place: int) -> bool:
    """A column of "---" alone is a probe that gave nothing; a column of empty cells is nothing."""
    return any(table.column(place))


def _label_column(table: Table, heading: Heading, left: Sequence[int], values: Sequence[int]) -> int | None:
    candidates = []
    for place in left:
        labels = Counter(cell.casefold() for cell in table.column(place) if cell)
        if not labels or len(labels) > _MOST_LABELS or set(labels) <= _STATUS:
            continue
        others = [value for value in values if value != place]
        if len(others) != 1:
            continue
        said = is_label_column(heading.cells[place])
        if table.kinds[place] == "number":
            whole = all(label.isdigit() for label in labels)
            if said and whole and len(labels) < len(table.rows):
                candidates.append((0, place))
        elif table.kinds[place] == "text":
            repeats = len(labels) > 1 and max(labels.values()) > 1
            if said or (repeats and not is_no_probe(heading.cells[place])):
                candidates.append((0 if said else 1, place))
    return min(candidates)[1] if candidates else None


def _first_pair(table: Table, left: Sequence[int]) -> int | None:
    """Where name and value begin to stand in turn, to the end of the line and at least twice."""
    for first in left:
        span = range(first, len(table.kinds))
        kinds = ["number" if table.kinds[place] == "none" else table.kinds[place] for place in span]
        if len(kinds) >= 4 and len(kinds) % 2 == 0 and kinds == ["text", "number"] * (len(kinds) // 2):
            labels = {cell.casefold() for place in span[::2] for cell in table.column(place)}
            if len(labels) > 1 and not labels <= _STATUS and all(place in left for place in span):
                return first
    return None


def _pairs(table: Table, rows: Sequence[tuple[int, list[str]]], first: int) -> Places:
    columns = range(first, len(table.kinds), 2)
    labels = _labels(cell for _, cells in rows for cell in (cells[place] for place in columns))
    probes, left_out, asked = _labelled(labels)
    cells = [cell for place in columns for cell in table.column(place + 1)]
    return Places(
        layout="pairs",
        probes=probes,
        found=(_names("Each line names its probes between the values", probes), *left_out),
        values=tuple(numbers_in(cells, table.decimal)),
        value_columns=tuple(place + 1 for place in columns),
        unit=_written(cells, table),
        name_column=first,
        questions=_of_controller(asked),
    )


def _long(table: Table, heading: Heading, rows: Sequence[tuple[int, list[str]]], label: int, value: int) -> Places:
    probes, left_out, asked = _labelled(_labels(cells[label] for _, cells in rows))
    cells = table.column(value)
    numbers = numbers_in(cells, table.decimal)
    typical = sorted(numbers)[len(numbers) // 2] if numbers else None
    unit = _written(cells, table) or unit_in(heading.cells, value, typical)
    for place in range(len(table.kinds)):
        words = set(table.column(place))
        if not unit and place not in (label, value) and len(words) == 1 and is_unit_cell(next(iter(words))):
            unit = unit_in(("°" + next(iter(words)).strip("°º "),), 0, typical)
    return Places(
        layout="long",
        probes=probes,
        found=(
            _names(
                f"Each line holds one value, in column {value + 1}; its probe is named in column {label + 1}", probes
            ),
            *left_out,
        ),
        values=tuple(numbers),
        value_columns=(value,),
        unit=unit,
        name_column=label,
        value_column=value,
        questions=_of_controller(asked),
    )


def _labels(cells: Iterable[str]) -> list[str]:
    labels = [cell.strip() for cell in cells]
    return [label for label, _ in Counter(label for label in labels if label and len(label) <= 80).items()][
        :_MOST_LABELS
    ]


def _labelled(labels: Sequence[str]) -> tuple[tuple[Probe, ...], list[str], list[str]]:
    by_key = {label.casefold(): label for label in reversed(labels)}
    ordered = [by_key[key] for key in dict.fromkeys(label.casefold() for label in labels)]
    named = [label for label in ordered if not is_no_probe(label) or is_index(label)]
    asked = [label for label in named if is_of_controller(label)]
    temperatures = [label for label in named if label not in asked] or named
    names = _unique([probe_name(label) or label for label in temperatures])
    probes = tuple(Probe(name=name, label=label) for name, label in zip(names, temperatures, strict=True))
    left_out = [f"{shown(label)} is left out." for label in ordered if label not in named]
    return probes, left_out, [label for label in asked if label not in temperatures]


def _wide(
    table: Table, heading: Heading, columns: Sequence[int], left_out: Sequence[str], asked: Sequence[str]
) -> Places:
    names = _unique([probe_name(heading.cells[place]) or f"Probe {i}" for i, place in enumerate(columns, 1)])
    all_values = {place: numbers_in(table.column(place), table.decimal) for place in columns}
    units: list[Unit | None] = []
    for place in columns:
        typical = sorted(all_values[place])[len(all_values[place]) // 2] if all_values[place] else None
        below = unit_in(tuple(f"({unit})" for unit in heading.units), place, typical) if heading.units else None
        if heading.units and not below:
            below = unit_in(heading.units, place, typical)
        written = _written(table.column(place), table)
        units.append(written or below or unit_in(heading.cells, place, typical))
    common = units[0] if units and len(set(units)) == 1 else None
    probes = tuple(
        Probe(name=name, column=place, unit=None if common else unit)
        for name, place, unit in zip(names, columns, units, strict=True)
    )
    questions = _of_controller(asked)
    if not probes:
        questions = (Question("probes", "No column is plainly a temperature. Which columns are probes?", ()),)
    return Places(
        layout="wide",
        probes=probes,
        found=(*((_names("Each probe has its column", probes),) if probes else ()), *left_out),
        values=tuple(value for values in all_values.values() for value in values),
        value_columns=tuple(columns),
        unit=common,
        questions=questions,
    )


def _written(cells: Sequence[str], table: Table) -> Unit | None:
    """The unit that stands beside the numbers, if all agree."""
    units = set()
    for cell in cells:
        try:
            units.add(number(cell, table.decimal)[1])
        except ValueError:
            continue
    return units.pop() if len(units) == 1 else None


def _unique(names: Sequence[str]) -> list[str]:
    taken: list[str] = []
    for name in names:
        candidate, count = name, 2
        while candidate in taken:
            candidate, count = f"{name[:75]} {count}", count + 1
        taken.append(candidate)
    return taken


def _names(what: str, probes: Sequence[Probe]) -> str:
    shown_names = ", ".join(probe.name for probe in probes[:12])
    return f"{what}: {shown_names}{' and more' if len(probes) > 12 else ''}."
