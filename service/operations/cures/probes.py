"""What is said of the probes and gauges of a logger's file: each is named once, and each part has a probe."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from service.operations.door.refusals import Unprocessable
from service.readings.read import Readings
from service.records.cures import CureLog, Logger


@dataclass(frozen=True, slots=True)
class Told:
    """Where each probe lay: on the part, in the air, left out with a reason, or elsewhere; what gauges measure."""

    part: tuple[str, ...]
    air: tuple[str, ...]
    stands_for: tuple[tuple[str, str], ...]
    left_out: dict[str, str]
    elsewhere: tuple[str, ...]
    gauges: dict[str, str]

    def _fields(self) -> Iterator[tuple[str, str]]:
        """The field in which a probe was named, and its name."""
        for field, names in (
            ("part_probes", self.part),
            ("air_probes", self.air),
            ("left_out", self.left_out),
            ("elsewhere", self.elsewhere),
            ("gauges", self.gauges),
        ):
            for name in names:
                yield field, name

    def refuse_unless_each_is_named_once(self, readings: Readings) -> None:
        """A colder probe that nobody names would be one that nobody looks at."""
        there = ", ".join(readings.probes)
        if not self.part and not self.air and not (self.gauges and not readings.probes):
            raise Unprocessable(
                f"Say which probes lie on the part and which in the air; the file has {there}.",
                pointer="/part_probes",
                probes=list(readings.probes),
            )
        named = Counter(name for _, name in self._fields())
        for field, name in self._fields():
            if name in readings.gauges and field not in ("gauges", "elsewhere"):
                raise Unprocessable(
                    f"{name} is a gauge; it measures no temperature.",
                    way_out=f"Say what it measures: gauges={name}=vacuum, or pressure, or absolute.",
                    pointer=f"/{field}",
                )
            if field == "gauges" and name in readings.probes:
                raise Unprocessable(
                    f"{name} is read as a temperature.",
                    way_out=f"Give {name} a unit of pressure in the logger's reading profile.",
                    pointer="/gauges",
                )
            if name not in readings.probes and name not in readings.gauges:
                raise Unprocessable(
                    f"The file has no probe {name}; it has {there}.",
                    pointer=f"/{field}",
                    probes=list(readings.probes),
                )
        both = [name for field, name in self._fields() if named[name] > 1 and field != "part_probes"]
        if both or max(named.values()) > 1:
            name = both[0] if both else named.most_common(1)[0][0]
            raise Unprocessable(
                f"{name} is named twice; it lies on the part or in the air, is left out, or is elsewhere.",
                pointer=f"/{next(field for field, one in reversed([*self._fields()]) if one == name)}",
            )
        unnamed_gauges = [name for name in readings.gauges if name not in named]
        if unnamed_gauges:
            raise Unprocessable(
                f"What does {' and '.join(unnamed_gauges)} measure: vacuum, pressure or absolute pressure? Or is it "
                "elsewhere?",
                pointer="/gauges",
                probes=unnamed_gauges,
            )
        silent = {name for name, values in readings.probes.items() if all(value is None for value in values)}
        unnamed = [name for name in readings.probes if name not in named and name not in silent]
        if unnamed:
            raise Unprocessable(
                f"Nothing is said of {', '.join(unnamed)}: on the part, in the air, left out (with the reason), or "
                "elsewhere?",
                pointer="/part_probes",
                probes=unnamed,
            )

    def refuse_moved(self, source: Logger, known: Sequence[CureLog]) -> None:
        """Whatever lay on the part or in the air stays there for the whole cure."""
        same = [log for log in known if log.logger_id == source.id]
        lay_on_part = {name for log in same for name in log.part_probes}
        lay_in_air = {name for log in same for name in log.air_probes}
        moved = [name for name in self.part if name in lay_in_air] + [name for name in self.air if name in lay_on_part]
        if moved:
            raise Unprocessable(
                f"In the file before, {moved[0]} of {source.name} lay elsewhere; on the part or in the air, it stays "
                "there for the whole cure.",
                pointer="/part_probes",
            )

    def parts_by_probe(self, parts: Sequence[str]) -> dict[str, list[str]]:
        """For each probe on a part the parts for which it stands; of a single part that needs no word."""
        for name, part in self.stands_for:
            if name not in self.part:
                raise Unprocessable(f"{name} is not among the probes on the part.", pointer="/stands_for")
            if part not in parts:
                raise Unprocessable(
                    f"{part} is not in this cure; {', '.join(parts)} is.", pointer="/stands_for", parts=list(parts)
                )
        standing = {name: [part for probe, part in self.stands_for if probe == name] for name in self.part}
        if len(parts) == 1:
            return {name: list(parts) for name in self.part}
        lost = [name for name, its in standing.items() if not its]
        if lost:
            raise Unprocessable(
                f"For which of {', '.join(parts)} does {lost[0]} stand? A probe may stand for several.",
                pointer="/stands_for",
                probes=lost,
                parts=list(parts),
            )
        return standing
