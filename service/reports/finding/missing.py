"""What nobody recorded on a part, and what the one who reads the report should look at once more. Pure."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from schemas.words import DateBasis, Evidence, State
from service.reports.reading.account import PartAccount, PotAccount
from service.reports.reading.names import pot_name
from service.reports.wording import code, listed, plural

_CURED = (State.CURED, State.DEMOULDED, State.TRIMMED, State.RELEASED, State.SHIPPED, State.FITTED)
_CANS_TOLD = 3


@dataclass(frozen=True, slots=True)
class Gap:
    """Something that is not there, in a sentence."""

    kind: str
    lead: str
    rest: str
    items: tuple[str, ...] = ()


def what_is_missing(account: PartAccount) -> tuple[list[Gap], list[tuple[str, str]]]:
    """What is missing, and which flags (kind, item) say the same."""
    gaps: list[Gap] = []
    told: list[tuple[str, str]] = []
    cold = [p for p in account.pots if p.contact_at is not None and p.temperature_c is None]
    if cold:
        rest = f"; so neither is {'its' if len(cold) == 1 else 'their'} pot life."
        gaps.append(_of_pots(account, "temperature", cold, "The temperature of {pots} is not known", rest))
        told += [("pot-life-not-known", p.code) for p in cold]
    unstirred = [p for p in account.pots if not p.stirrings]
    if unstirred:
        rest = "; a ratio within its limits says nothing of it."
        gaps.append(_of_pots(account, "stirring", unstirred, "No stirring is recorded for {pots}", rest))
        told += [("not-stirred", p.code) for p in unstirred]
    for kind, lead, pots in (
        ("cup-not-kept", "No cup was kept of {pots}", [p for p in account.pots if p.cup_kept is False]),
        ("cup-not-checked", "No cup check is recorded for {pots}", [p for p in account.pots if _unchecked(p)]),
        ("not-closed", "{pots} was never closed", [p for p in account.pots if p.cup_kept is None and _applied(p)]),
    ):
        if pots:
            gaps.append(_of_pots(account, kind, pots, lead, "."))
    gaps += _of_cures(account, told)
    gaps += _of_materials(account)
    if account.demoulded_at is not None and not account.inspections:
        gaps.append(Gap("inspection", "No inspection is recorded", "."))
    if account.missing_plies and account.laid_up_at is not None:
        named = listed([str(n) for n in account.missing_plies])
        plies = "ply" if len(account.missing_plies) == 1 else "plies"
        gaps.append(Gap("ply-missing", f"Nobody recorded the laying of {plies} {named}", ".", (account.code,)))
        told += [("ply-missing", account.code)]
    return gaps, told


def _unchecked(pot: PotAccount) -> bool:
    return pot.cup_kept is True and not pot.cup_checks


def _applied(pot: PotAccount) -> bool:
    return bool(pot.applied)


def _of_pots(account: PartAccount, kind: str, pots: Sequence[PotAccount], lead: str, rest: str) -> Gap:
    """One sentence for one pot by its name, or for several by their number."""
    codes = tuple(p.code for p in pots)
    if len(pots) == 1:
        named = f"the {pot_name(account, pots[0])}"
    elif len(pots) == len(account.pots):
        named = "any of the pots" if lead.startswith("No ") else "the pots"
    else:
        named = f"{len(pots)} of {len(account.pots)} pots"
    said = lead.format(pots=named)
    if len(pots) > 1:
        said = said.replace(" was never", " were never")
    return Gap(kind, said[0].upper() + said[1:], rest, codes)


def _of_cures(account: PartAccount, told: list[tuple[str, str]]) -> Iterable[Gap]:
    if not account.cures and account.state in _CURED:
        yield Gap("no-cure", "No cure is recorded", ".", (account.code,))
    for cure in account.cures:
        if cure.evidence == Evidence.DECLARED:
            told.append(("cure-declared", cure.code))
            yield Gap("cure-declared", "The cure was declared", "; nothing was measured.", (cure.code,))
        elif cure.evidence == Evidence.AIR_LOG and cure.passed:
            rest = "; that proves no time on the part."
            yield Gap("cure-in-air", "The cure was logged in the air only", rest, (cure.code,))
        elif cure.evidence is None:
            yield Gap("cure-without-evidence", "Nothing proves the cure yet", ".", (cure.code,))


def _of_materials(account: PartAccount) -> Iterable[Gap]:
    asked = [m for m in account.materials if m.storage_monitored is not None]
    loose = [m for m in asked if not m.storage_monitored]
    if loose:
        named = (
            f"its {loose[0].noun}" if len(loose) == 1 else f"{len(loose)} of its {len(asked)} materials with a range"
        )
        yield Gap("storage", f"The storage of {named} was not monitored", ".", tuple(m.container for m in loose))
    for used in account.materials:
        if used.makers_lot is None:
            because = f": {used.lot_unknown_because}" if used.lot_unknown_because else ""
            yield Gap(
                "lot", f"The maker's lot of its {used.noun} is not known", f"{because}.", (used.container, used.lot)
            )
        if used.date_basis == DateBasis.ESTIMATED:
            rest = "; it is not what its days are counted to." if used.good_because == "opened" else "."
            yield Gap(
                "date", f"The last day of the lot of its {used.noun} is estimated", rest, (used.container, used.lot)
            )
        if used.certificate_wanted is not None and not used.certificates:
            lead = f"There is no certificate {used.certificate_wanted} for its {used.noun}"
            yield Gap("certificate", lead, ".", (used.container, used.lot))


def read_again(account: PartAccount) -> Iterable[Gap]:
    """Nothing wrong by itself, but worth a second look."""
    estimated = [p for p in account.pots if any(a.estimated for a in p.applied)]
    if estimated:
        yield _of_pots(account, "estimated", estimated, "How much of {pots} went in is estimated", ".")
    air = [p for p in account.pots if p.temperature_c is not None and p.temperature_of_air]
    if air:
        rest = "; the mix may have been warmer."
        yield _of_pots(account, "temperature-of-air", air, "Only the air's temperature is known for {pots}", rest)
    for pot in account.pots:
        back = [w for w in pot.weighings if w.read_back and not w.taken_back]
        if back:
            lead = (
                f"{plural(len(back), 'reading')} of the {pot_name(account, pot)} {'was' if len(back) == 1 else 'were'} "
            )
            it = "it" if len(back) == 1 else "they"
            yield Gap("read-back", f"{lead}read once more", f" before {it} counted.", (pot.code,))
    yield from _skipped(account)


def _skipped(account: PartAccount) -> Iterable[Gap]:
    """Cans that should have been used up first; the same ones with the same reason are told once for all pots."""
    groups: dict[tuple[tuple[str, ...], str | None], list[PotAccount]] = {}
    for pot in account.pots:
        if pot.skipped:
            groups.setdefault((pot.skipped, pot.skipped_why), []).append(pot)
    for (cans, why), pots in groups.items():
        names = [code(c) for c in cans[:_CANS_TOLD]]
        more = len(cans) - _CANS_TOLD
        named = listed([*names, f"{more} more"] if more > 0 else names)
        rest = f"; the reason given: {why}." if why else "; no reason was given."
        gap = _of_pots(account, "skipped", pots, f"For {{pots}}, {named} should have been used up first", rest)
        yield replace(gap, items=(*gap.items, *cans))
