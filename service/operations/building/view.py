"""What a build check answers."""

from dataclasses import dataclass
from datetime import date, datetime

from schemas.words import BuildAnswer, BuildConditionKind, Component, Purpose
from service.operations.parts.designs import DesignRef


@dataclass(frozen=True, slots=True)
class BuildLine:
    """One line of what was asked.

    Attributes
    ----------
    number
        Its place in the request, from 1.
    answer
        Of its design and its moulds; what there is of materials is told for all lines together.
    first_begins_on
        When its first part can be begun; null: none.
    last_begins_on
        When its last part can be begun.
    last_out_on
        When its last part is out of its mould; null: not known, or there is no mould of it.
    late
        How many of its parts are late for `due_on`.
    """

    number: int
    design: DesignRef
    quantity: int
    due_on: date | None
    answer: BuildAnswer
    first_begins_on: date | None
    last_begins_on: date | None
    last_out_on: date | None
    late: int
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BuildPart:
    """When one part of a line is begun, and where.

    Attributes
    ----------
    part_in_line
        1 for the first part of the line.
    begins_at
        As early as its moulds allow; null: not known.
    out_at
        When it is out of its mould.
    late
        Is it out after it is due? null: not known.
    kit
        The kit that is cut for it already; null: its cloth comes off the rolls.
    """

    line: int
    part_in_line: int
    mould: str | None
    begins_at: datetime | None
    out_at: datetime | None
    late: bool | None
    kit: str | None


@dataclass(frozen=True, slots=True)
class BuildPots:
    """The pots of one part of a line, for one need of its design.

    Attributes
    ----------
    pots
        How many equal ones.
    scale
        The scale that they are planned on; null: none may be used now.
    """

    line: int
    purpose: Purpose
    system_id: int
    system_name: str
    hardener: int
    hardener_name: str
    need_mg: int
    pots: int
    pot_mg: int
    scale: str | None


@dataclass(frozen=True, slots=True)
class BuildDraw:
    """So much from one can for one pot, or one cut from one roll.

    Attributes
    ----------
    part_in_line
        1 for the first part of the line.
    purpose
        Of the pot; null for a cut.
    pot
        1 for the first pot of that purpose; null for a cut.
    container
        Null: from the delivery that is expected.
    used_on
        The day of use, on which it is in date.
    """

    line: int
    part_in_line: int
    purpose: Purpose | None
    pot: int | None
    component: Component | None
    container: str | None
    lot: str | None
    used_on: date
    mass_mg: int | None
    length_mm: int | None


@dataclass(frozen=True, slots=True)
class BuildMaterial:
    """One material: what is needed of it, what there is, and whether the one can be met from the other.

    Attributes
    ----------
    free_mg
        In cans that may be used by the first day that needs it, less what pots under way have reserved.
    reserved_for_others_mg
        What of it other orders have reserved; the rest is only planned for them.
    short_mg
        What is missing; so much more, in date from `short_by` on, would be enough.
    short_by
        The first day that wants what is missing.
    sentence
        The answer in words; of a no its proof.
    """

    material: int
    name: str
    answer: BuildAnswer
    needed_mg: int | None
    needed_mm: int | None
    free_mg: int | None
    free_mm: int | None
    kept_for_others_mg: int | None
    kept_for_others_mm: int | None
    reserved_for_others_mg: int | None
    reserved_for_others_mm: int | None
    short_mg: int | None
    short_mm: int | None
    short_by: date | None
    draws: tuple[BuildDraw, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class BuildCondition:
    """What has to come first, all of them together.

    Attributes
    ----------
    item
        The lot to release, or the container that a permit is for; null: neither.
    """

    kind: BuildConditionKind
    item: str | None
    sentence: str


@dataclass(frozen=True, slots=True)
class BuildOrder:
    """What to order, and by when it has to be here and released."""

    material: int
    name: str
    mass_mg: int | None
    length_mm: int | None
    needed_by: date


@dataclass(frozen=True, slots=True)
class BuildSaves:
    """Stock that is soon past its date and that this would use.

    Attributes
    ----------
    left_mg
        What of it would still be there.
    """

    container: str
    material: int
    name: str
    good_until: date
    used_mg: int | None
    used_mm: int | None
    left_mg: int | None
    left_mm: int | None


@dataclass(frozen=True, slots=True)
class BuildDelivery:
    """An expected delivery that a plan draws from.

    Attributes
    ----------
    expected_on
        The first day on which it is thought to be here and released.
    """

    material: int
    name: str
    expected_on: date
    sentence: str


@dataclass(frozen=True, slots=True)
class BuildEarliest:
    """The earliest day on which all that was asked is ready, from stock, expected deliveries, moulds and cures.

    Counted on are the deliveries, on their days, and nothing else that has not come yet: no release, no permit, no
    other hardener. A part is ready when it is out of its mould, and not before the least times of its cure's stages.

    Attributes
    ----------
    answer
        yes: from what is there; "yes, if": the deliveries come; no: not within these days, which is proved; "not
        shown": the search ended, or something is not known.
    ready_on
        The day on which the last part is ready; null: none was found.
    proved
        No earlier day is possible; false: it may be.
    within_days
        So many days from today were looked at.
    deliveries
        Those that the plan draws from.
    parts
        When each is begun in this plan, and where.
    """

    answer: BuildAnswer
    ready_on: date | None
    proved: bool
    within_days: int
    deliveries: tuple[BuildDelivery, ...]
    parts: tuple[BuildPart, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class BuildCheck:
    """Can it be built: yes with what from where, yes with conditions, no with its proof, or not shown.

    Attributes
    ----------
    answer
        yes, "yes, if", no, or "not shown": the search ended, or something is not known.
    conditions
        Of a "yes, if": what has to come first.
    smallest
        No smaller set of conditions would do; false: the search ended before that was shown.
    earliest
        The earliest day on which all is ready; null: it was not asked for.
    others_first
        So many planned parts of open orders, due no later, were given their days and their materials first.
    not_checked
        What this answer says nothing about.
    """

    answer: BuildAnswer
    sentence: str
    lines: tuple[BuildLine, ...]
    parts: tuple[BuildPart, ...]
    pots: tuple[BuildPots, ...]
    materials: tuple[BuildMaterial, ...]
    conditions: tuple[BuildCondition, ...]
    smallest: bool
    to_order: tuple[BuildOrder, ...]
    saves: tuple[BuildSaves, ...]
    earliest: BuildEarliest | None
    others_first: int
    not_checked: tuple[str, ...]
