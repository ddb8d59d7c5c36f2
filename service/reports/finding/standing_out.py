"""What stands out on a part, in sentences with numbers: out of limit, permitted, late, corrected, missing, to be read.

Pure: it reads an account and, for the shop's own report, the suspects; nothing else.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from schemas.words import Decision, PermissionKind
from service.operations.ledger.permitting import COVERS
from service.reports.finding.failed_cures import what_failed
from service.reports.finding.missing import read_again, what_is_missing
from service.reports.finding.suspected import Suspect, Suspects
from service.reports.finding.unusual import Unusual
from service.reports.finding.weighing import Suspicion
from service.reports.reading.account import Mark, PartAccount
from service.reports.reading.names import pot_name, thing_name
from service.reports.wording import capital, code, day, local_day, local_time, number, plural, second_component, span


class Rank(StrEnum):
    """How a finding stands, the gravest first."""

    SUSPECT = "stands out"
    OUT = "out of limit"
    PERMITTED = "permitted"
    LATE = "late"
    CORRECTED = "corrected"
    MISSING = "missing or not known"
    REVIEW = "to be read"


_ORDER = tuple(Rank)
# More late or corrected entries than this are told in one sentence.
_TOLD_APART = 3


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that stands out. `lead` is what catches the eye, `rest` goes on from it.

    Attributes
    ----------
    rank
        stands out, out of limit, permitted, late, corrected, missing or not known, to be read.
    items
        Codes, the one that it is about first.
    permit
        The permit or concession that answers it.
    weight
        How grave it is among those of its rank.
    suspicious
        Stronger than chance would bring; never a cause.
    """

    rank: Rank
    kind: str
    lead: str
    rest: str
    items: tuple[str, ...]
    permit: int | None = None
    numbers: dict[str, Any] = field(default_factory=dict)
    weight: float = 0.0
    suspicious: bool = False

    @property
    def sentence(self) -> str:
        return self.lead + self.rest


class _Seen:
    """The flags that a finding has told already."""

    def __init__(self, account: PartAccount) -> None:
        self.account = account
        self.told: set[int] = set()

    def take(self, *kinds: str, item: str | None = None, container: str | None = None) -> list[Mark]:
        found = self.account.marks_of(kinds, item=item, container=container)
        self.told |= {id(m) for m in found}
        return found

    def left(self) -> list[Mark]:
        return [m for m in self.account.marks if id(m) not in self.told]


def stand_out(
    account: PartAccount, suspects: Suspects | None = None, rare: Sequence[Unusual] = ()
) -> tuple[Finding, ...]:
    """All findings on a part, the gravest first; with suspects, those that the numbers speak for come before.

    ``rare`` is what is unusual by the shop's own history.
    """
    seen = _Seen(account)
    found = [
        *_materials(account, seen),
        *_pots(account, seen),
        *_cures(account, seen),
        *_late(account),
        *_corrected(account, seen),
    ]
    gaps, told = what_is_missing(account)
    for kind, item in told:
        seen.take(kind, item=item)
    found += [Finding(Rank.MISSING, g.kind, g.lead, g.rest, g.items) for g in gaps]
    found += [Finding(Rank.REVIEW, g.kind, g.lead, g.rest, g.items) for g in read_again(account)]
    found += [_by_history(one) for one in rare]
    found += _flags(account, seen.left())
    if suspects is not None:
        found += _known_since(account, found, suspects)
        found = [_with_numbers(f, suspects) for f in found]
        found += _suspicions(found, suspects)
    return tuple(sorted(found, key=lambda f: (not f.suspicious, _ORDER.index(f.rank), -f.weight)))


def _by_history(one: Unusual) -> Finding:
    numbers = {"value": one.value, "reached_by": one.reached_by, "parts": one.parts, "share_pct": one.share_pct}
    return Finding(Rank.REVIEW, "unusual", one.lead, one.rest, (), None, numbers, 1 - one.share_pct / 100)


def _answered(account: PartAccount, marks: Sequence[Mark]) -> tuple[Rank, str, int | None]:
    """Whether what was out of limit is permitted, the words for it, and by which permission."""
    stopping = [m for m in marks if m.stops]
    permits = [account.permit(m.permit) for m in stopping]
    signed = [p for p in permits if p is not None and p.decision in COVERS]
    asked = [p for p in permits if p is not None and p.decision == Decision.ASKED]
    if stopping and len(signed) == len(stopping):
        one = signed[-1]
        verb = "accepted" if one.kind == PermissionKind.CONCESSION else "signed"
        words = f" {one.kind.capitalize()} {one.id}, {verb} {local_day(one.signed_at, account.zone)}"
        if one.withdrawn_at is not None:
            words += f"; withdrawn {local_day(one.withdrawn_at, account.zone)}, this was done before"
        words += "."
        return Rank.PERMITTED, words, one.id
    if asked:
        one = asked[-1]
        return Rank.OUT, f" {one.kind.capitalize()} {one.id} is asked for and not signed yet.", one.id
    return Rank.OUT, "", None


def _materials(account: PartAccount, seen: _Seen) -> Iterable[Finding]:
    nouns = [m.noun for m in account.materials if m.over]
    for used in account.materials:
        marks = seen.take("open-too-long", "expired", container=used.container)
        rank, words, permit = _answered(account, marks)
        name = used.noun if nouns.count(used.noun) < 2 else f"{used.noun} {code(used.container)}"
        items = (used.container, *used.used_in)
        if used.margin_days is not None and used.margin_days < 0:
            over = -used.margin_days
            numbers: dict[str, Any] = {"margin_days": used.margin_days, "good_until": used.good_until}
            if used.good_because == "opened" and used.days_open is not None and used.opened_life_days is not None:
                lead = f"Its {name} had been open {plural(used.days_open, 'day')}"
                rest = f"; the limit is {used.opened_life_days}."
                numbers |= {"days_open": used.days_open, "limit_days": used.opened_life_days}
                weight = over / max(used.opened_life_days, 1)
            else:
                which = "retest date" if used.good_because == "retest" else "date"
                lead = f"Its {name} was {plural(over, 'day')} past its {which}"
                rest, weight = f"; it was good until {day(used.good_until)}.", over / 365
            yield Finding(rank, "age", lead, rest + words, items, permit, numbers, 1 + weight)
        marks = seen.take("not-released", "rejected", container=used.container)
        if not used.released_before_use:
            rank, words, permit = _answered(account, marks)
            when = f"; it was released {local_day(used.released_at, account.zone)}." if used.released_at else "."
            lead = f"Its {name} was used before its lot was released"
            yield Finding(rank, "not-released", lead, when + words, items, permit, {}, 1.0)


def _pots(account: PartAccount, seen: _Seen) -> Iterable[Finding]:
    for pot in account.pots:
        name = pot_name(account, pot)
        outside, near = seen.take("ratio-outside", item=pot.code), seen.take("near-the-limit", item=pot.code)
        if pot.deviation_pct is not None and pot.verdict in ("outside", "near the limit"):
            side = "over" if pot.deviation_pct > 0 else "under"
            lead = f"The {name} ran {number(abs(pot.deviation_pct))} % {side} on {second_component(pot.catalyst_line)}"
            numbers = {
                "deviation_pct": pot.deviation_pct,
                "uncertainty_pct": pot.uncertainty_pct,
                "tolerance_pct": pot.tolerance_pct,
            }
            size = abs(pot.deviation_pct) / pot.tolerance_pct
            limit = f"± {pot.tolerance_pct:.3g} %"
            if pot.verdict == "outside":
                rank, words, permit = _answered(account, outside)
                # A peroxide has a range of per cent of the resin, and its target need not be in the middle of it.
                rest = f"; the limit is {limit}." if pot.catalyst_line is None else f": {pot.catalyst_line}"
                yield Finding(rank, "ratio", lead, rest + words, (pot.code,), permit, numbers, size)
            else:
                knows = f", known to ± {number(pot.uncertainty_pct)} %" if pot.uncertainty_pct is not None else ""
                edge = (
                    f"the limit of {limit} to tell."
                    if pot.catalyst_line is None
                    else f"its edge to tell: {pot.catalyst_line}"
                )
                rest = f"{knows}: too near to {edge}"
                rank, words, permit = _answered(account, near)
                rank = rank if any(m.stops for m in near) else Rank.REVIEW
                yield Finding(rank, "ratio", lead, rest + words, (pot.code,), permit, numbers, size)
        late = seen.take("pot-life-over", "pot-life-just-over", item=pot.code)
        over = pot.over_life_min
        if late or (over is not None and over > 0):
            rank, words, permit = _answered(account, late)
            # Over it by less than it is known to.
            rank = Rank.REVIEW if late and not any(m.stops for m in late) else rank
            after = f"{span(over)} after its pot life" if over is not None and over > 0 else "after its pot life"
            until = f"; it was to be used before {local_time(pot.use_before, account.zone)}." if pot.use_before else "."
            yield Finding(
                rank, "pot-life", f"The {name} was applied {after}", until + words, (pot.code,), permit,
                {"over_min": over}, 1.0,
            )  # fmt: skip
        soft = seen.take("soft-cup", item=pot.code)
        if soft or any(not c.hard for c in pot.cup_checks):
            rank, words, permit = _answered(account, soft)
            lead = f"The cup kept of the {name} did not get hard"
            yield Finding(rank, "soft-cup", lead, "." + words, (pot.code,), permit, {}, 2.0)


def _cures(account: PartAccount, seen: _Seen) -> Iterable[Finding]:
    for cure in account.cures:
        name = ("post-cure" if cure.post_cure else "cure") + (f" {code(cure.code)}" if len(account.cures) > 2 else "")
        marks = seen.take("cure-not-proved", item=cure.code)
        if cure.passed is False:
            rank, words, permit = _answered(account, marks)
            failed = what_failed(cure, account.zone)
            lead, rest = f"The {name} {failed.what}", failed.rest + words
            yield Finding(rank, "cure", lead, rest, (cure.code,), permit, failed.numbers, failed.weight)
        seen.take("cure-log-odd", item=cure.code)
        if cure.passed and cure.gaps:
            longest = max(end - start for start, end in cure.gaps)
            many = f"{plural(len(cure.gaps), 'gap')}, the longest" if len(cure.gaps) > 1 else "a gap"
            lead = f"The log of the {name} has {many} of {span(longest)}"
            rest = "; it counts nothing, and the time is proved without it."
            yield Finding(Rank.REVIEW, "cure-gap", lead, rest, (cure.code,), None, {"gaps_min": list(cure.gaps)})


def _late(account: PartAccount) -> Iterable[Finding]:
    entries = account.late
    if len(entries) > _TOLD_APART:
        worst = max(entries, key=lambda e: e.gap_min)
        lead = f"{len(entries)} entries were made late"
        rest = f", at most {span(worst.gap_min)} after it happened: {worst.what}, by {worst.person_name}."
        items = tuple(dict.fromkeys(i for e in entries for i in e.items))
        yield Finding(Rank.LATE, "late", lead, rest, items, None, {"gap_min": worst.gap_min}, worst.gap_min)
        return
    for entry in entries:
        lead = f"{capital(entry.what)} was entered {span(entry.gap_min)} after it happened"
        rest = f", by {entry.person_name} on {local_time(entry.recorded_at, account.zone)}."
        yield Finding(Rank.LATE, "late", lead, rest, entry.items, None, {"gap_min": entry.gap_min}, entry.gap_min)


def _corrected(account: PartAccount, seen: _Seen) -> Iterable[Finding]:
    for used in account.materials:
        # A container's flag may be about any pot that it was poured into; this part's own are told by its pots.
        seen.take("corrected", item=used.container)
    for entry in account.corrected:
        for item in entry.items:
            seen.take("corrected", item=item)
        lead = f"The entry of {entry.what} was corrected"
        declared = f": {entry.declared}" if entry.declared else ""
        why = f" ({entry.why})" if entry.why else ""
        rest = f" on {local_day(entry.corrected_at, account.zone)} by {entry.corrected_by}{declared}{why}."
        yield Finding(Rank.CORRECTED, "corrected", lead, rest, entry.items)


# Flags that say that something is not known rather than out of limit.
_NOT_KNOWN = frozenset({"not-known", "ratio-not-known", "pot-life-not-known", "not-stirred"})


def _flags(account: PartAccount, marks: Sequence[Mark]) -> Iterable[Finding]:
    """All other flags, in the words in which they were raised; the same on several things once."""
    groups: dict[tuple[str, str, Rank, str, int | None], list[Mark]] = {}
    for mark in marks:
        rank, words, permit = _answered(account, [mark])
        if not mark.stops:
            rank = Rank.MISSING if mark.kind in _NOT_KNOWN else Rank.REVIEW
        groups.setdefault((mark.kind, mark.sentence, rank, words, permit), []).append(mark)
    for (kind, sentence, rank, words, permit), same in groups.items():
        things = list(dict.fromkeys(m.item for m in same))
        about = thing_name(account, things[0])
        lead = sentence if about is None or things[0] in sentence else f"{about}: {sentence}"
        rest = f" The same for {', '.join(code(t) for t in things[1:])}." if len(things) > 1 else ""
        yield Finding(rank, kind, lead, rest + words, tuple(things), permit, {}, 0.5)


def _known_since(account: PartAccount, found: Sequence[Finding], suspects: Suspects) -> Iterable[Finding]:
    """A container within its limits as they were known when it was used, and beyond the one that its card has now."""
    told = {f.items[0] for f in found if f.kind == "age"}
    nouns = {used.container: used.noun for used in account.materials}
    for split in suspects.splits:
        if split.limit_days > 0 and split.own_days > split.limit_days and split.code in nouns.keys() - told:
            lead = f"Its {nouns[split.code]} had been open {plural(split.own_days, 'day')}"
            rest = f"; the limit is {split.limit_days} by what is known now, and was not when it was used."
            numbers = {"days_open": split.own_days, "limit_days": split.limit_days}
            yield Finding(Rank.REVIEW, "age", lead, rest, (split.code,), None, numbers, 1.0)


def _with_numbers(finding: Finding, suspects: Suspects) -> Finding:
    """A container beyond its limit is told with what became of its sisters."""
    split = next((s for s in suspects.splits if finding.kind == "age" and s.code == finding.items[0]), None)
    if split is None or split.own_days <= split.limit_days:
        return finding
    ranked = next((s for s in suspects.ranked if s.kind == "age" and s.code == split.code), None)
    numbers = {
        **finding.numbers,
        "after": {"parts": split.after.parts, "failed": split.after.failed},
        "before": {"parts": split.before.parts, "failed": split.before.failed},
        "elsewhere": {"parts": split.elsewhere.parts, "failed": split.elsewhere.failed},
        "p": split.p,
    }
    suspicious = ranked is not None and ranked.stands_alone
    if ranked is not None and ranked.verdict == Suspicion.ACCUSED and finding.rank == Rank.REVIEW:
        # Nobody broke a limit that was known, and yet it stands out.
        finding = replace(finding, rank=Rank.SUSPECT)
    return replace(finding, rest=f"{finding.rest} {split.sentence}", numbers=numbers, suspicious=suspicious)


def _suspicions(found: Sequence[Finding], suspects: Suspects) -> Iterable[Finding]:
    """Suspects that stand alone and that no finding speaks for."""
    told = {f.items[0] for f in found if f.suspicious and f.items}
    for suspect in suspects.ranked:
        if suspect.stands_alone and suspect.suspicious and not (suspect.kind == "age" and suspect.code in told):
            yield _suspicion(suspect)
    for measured in suspects.numbers:
        if measured.verdict == Suspicion.ACCUSED:
            numbers = {"p": measured.p, "p_adjusted": measured.p_adjusted}
            lead = measured.sentence.removesuffix(".")
            yield Finding(Rank.SUSPECT, "suspect", lead, ".", (), None, numbers, 1.0, True)
    for task in suspects.people:
        if task.verdict == Suspicion.ACCUSED:
            rest = f"; {task.sentence.partition('; ')[2]} It asks what was different about the work, and blames nobody."
            yield Finding(Rank.REVIEW, "task", task.sentence.partition("; ")[0], rest, (), weight=1.0)


def _suspicion(suspect: Suspect) -> Finding:
    lead, _, rest = suspect.sentence.partition("; ")
    rest = f"; {rest}"
    if suspect.cannot_separate:
        rest += f" It cannot be told from {', '.join(suspect.cannot_separate[:3])}"
        more = len(suspect.cannot_separate) - 3
        rest += f" and {more} more." if more > 0 else "."
    numbers = {
        "exposed": {"parts": suspect.exposed.parts, "failed": suspect.exposed.failed},
        "others": {"parts": suspect.others.parts, "failed": suspect.others.failed},
        "p": suspect.p,
        "p_adjusted": suspect.p_adjusted,
    }
    items = (suspect.code,) if suspect.code else ()
    # What cannot be told from its period, or from another, is stronger than chance, and does not stand out.
    rank = Rank.SUSPECT if suspect.verdict == Suspicion.ACCUSED else Rank.REVIEW
    return Finding(rank, "suspect", lead, rest, items, None, numbers, 1.0, suspicious=True)
