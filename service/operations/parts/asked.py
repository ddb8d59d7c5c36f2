"""What a design asks for compared with what went onto a part: system, mass and coats of each purpose, and the fibre by
mass that comes of it. Pure: numbers and words in, sentences out.

A mass is compared with its losses on both sides, as the design states its need. What somebody estimated has a range in
place of a number; a verdict is given only where the whole range lies on one side of the design's spread.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from schemas.words import Purpose

# What ends up in the laminate; gel coat and adhesive do not wet fibres.
_IN_THE_LAMINATE = (Purpose.WET_OUT, Purpose.RESIN_COAT)


@dataclass(frozen=True, slots=True)
class Went:
    """What one application of a pot came to: used with its share of the pot's losses, and applied without.

    ``used_g`` is nothing while the pot is not closed. ``low_g`` and ``high_g`` bound it, ``applied_low_g`` and
    ``applied_high_g`` what stayed on the part; ``estimated`` says why they are apart or not measured.
    """

    mix: str
    system: str
    purpose: str | None
    used_g: float | None = None
    low_g: float = 0.0
    high_g: float = 0.0
    applied_low_g: float = 0.0
    applied_high_g: float = 0.0
    estimated: str | None = None


@dataclass(frozen=True, slots=True)
class NeedMet:
    """One purpose of a design beside what was applied for it, losses included on both sides.

    Attributes
    ----------
    used_g
        Nothing while a pot that went in is not closed.
    low_g
        With high_g the range in which it lies, where something is estimated.
    estimated
        What is estimated, in words.
    within
        Inside the design's spread; nothing where the design gives none, or where it cannot be told.
    """

    purpose: Purpose
    system: str
    asked_g: float
    spread_pct: float | None
    coats: int | None
    coats_done: int
    used_g: float | None
    low_g: float | None
    high_g: float | None
    estimated: str | None
    difference_pct: float | None
    within: bool | None
    sentence: str


@dataclass(frozen=True, slots=True)
class FibreShare:
    """Fibre by mass as planned, and as it comes of what was applied: a range where something is not known."""

    planned: float
    low: float
    high: float
    sentence: str


@dataclass(frozen=True, slots=True)
class NotAsDesigned:
    """One way in which a part is not what its design asks for. A stop needs a concession, the others are read."""

    kind: str
    purpose: str
    sentence: str
    stops: bool
    hold: bool = False


@dataclass(frozen=True, slots=True)
class AsDesigned:
    """What the design asks for compared with what was applied.

    Attributes
    ----------
    sentences
        What is not as designed, or not known yet.
    """

    needs: tuple[NeedMet, ...]
    fibre_mass: FibreShare | None
    sentences: tuple[str, ...]
    found: tuple[NotAsDesigned, ...]


def compare(
    needs: Sequence[dict[str, Any]],
    went: Sequence[Went],
    *,
    fibre_g: float | None = None,
    planned_by_mass: float | None = None,
    uptake_g: float = 0.0,
) -> AsDesigned:
    """Each need of a design against what went onto the part."""
    fibre = _fibre_share(went, fibre_g, planned_by_mass, uptake_g)
    met, found = [], []
    for purpose in dict.fromkeys(need["purpose"] for need in needs):
        of_purpose = [w for w in went if w.purpose == purpose]
        asked = [need for need in needs if need["purpose"] == purpose]
        systems = [need["system"] for need in asked]
        for strange in _once(w for w in of_purpose if w.system not in systems):
            sentence = other_system(strange.mix, strange.system, purpose, systems)
            found.append(NotAsDesigned("other-system", purpose, sentence, stops=True, hold=True))
        for need in asked:
            own = [w for w in of_purpose if w.system == need["system"]]
            one = _met(need, own)
            met.append(one)
            found += _of_need(one, bool(own), bool(of_purpose), fibre if purpose == Purpose.WET_OUT else None)
    unknown = [m.sentence for m in met if m.used_g is None and m.coats_done]
    told = [*(f.sentence for f in found), *unknown]
    if fibre is not None and not any(fibre.sentence in sentence for sentence in told):
        told.append(fibre.sentence)
    return AsDesigned(needs=tuple(met), fibre_mass=fibre, sentences=tuple(told), found=tuple(found))


def _once(went: Iterable[Went]) -> list[Went]:
    return list({(w.mix, w.system): w for w in went}.values())


def other_system(mix: str, system: str, purpose: str, asked: Sequence[str]) -> str:
    """A pot of another system than the design asks for, in a sentence."""
    return f"{mix} went on as {purpose}: it is {system}, and the design asks for {' or '.join(asked)}."


def _met(need: dict[str, Any], own: Sequence[Went]) -> NeedMet:
    asked, spread, coats = need["mass_g"], need.get("spread_pct"), need.get("coats")
    name = need["purpose"].capitalize()
    masses = [w.used_g for w in own if w.used_g is not None]
    # Nothing applied is nothing; what lies in an open pot is not known yet.
    known = len(masses) == len(own) and bool(own)
    used, low, high = sum(masses), sum(w.low_g for w in own), sum(w.high_g for w in own)
    estimated = "; ".join(dict.fromkeys(w.estimated for w in own if w.estimated)) or None
    within, difference = None, None
    if known:
        difference = (used - asked) / asked * 100
        within = _within(asked, spread, low, high)
        sentence = f"{name}: {_g(used)} of {_g(asked)} asked{_than(difference)}{_known_to(low, high, estimated)}"
        sentence += f"; ± {spread:g} % is allowed." if spread is not None else "; the design gives no spread for it."
    elif own:
        open_pots = ", ".join(dict.fromkeys(w.mix for w in own if w.used_g is None))
        sentence = f"{name}: how much went on is not known before {open_pots} is closed; {_g(asked)} is asked."
    else:
        sentence = f"{name}: no {need['system']} is recorded; the design asks for {_g(asked)}."
    return NeedMet(
        purpose=Purpose(need["purpose"]),
        system=need["system"],
        asked_g=asked,
        spread_pct=spread,
        coats=coats,
        coats_done=len(own),
        used_g=round(used, 1) if known else None,
        low_g=round(low, 1) if known else None,
        high_g=round(high, 1) if known else None,
        estimated=estimated,
        difference_pct=round(difference, 1) if difference is not None else None,
        within=within,
        sentence=sentence,
    )


def _within(asked: float, spread: float | None, low: float, high: float) -> bool | None:
    """Inside the spread with its whole range, outside with it, or neither can be said."""
    if spread is None:
        return None
    least, most = asked * (1 - spread / 100), asked * (1 + spread / 100)
    if least <= low and high <= most:
        return True
    return False if high < least or low > most else None


def _of_need(one: NeedMet, own: bool, any_of_it: bool, fibre: FibreShare | None) -> Iterable[NotAsDesigned]:
    if not own:
        if not any_of_it:
            sentence = f"No mix for {one.purpose} is recorded; the design asks for {_g(one.asked_g)} of {one.system}."
            yield NotAsDesigned("no-resin", one.purpose, sentence, stops=True)
        return
    if one.coats is not None and one.coats_done < one.coats:
        sentence = f"{one.purpose.capitalize()}: {one.coats_done} of {one.coats} coats {_is(one.coats_done)} recorded."
        yield NotAsDesigned("coats-missing", one.purpose, sentence, stops=True)
    if one.used_g is None or one.within is True:
        return
    if one.spread_pct is None and abs(one.difference_pct or 0) < _SAME_PCT:
        return
    said = one.sentence + (f" {fibre.sentence}" if fibre is not None else "")
    yield NotAsDesigned("resin-mass", one.purpose, said, stops=one.within is False)


# A difference that is printed as none.
_SAME_PCT = 0.5


def _fibre_share(
    went: Sequence[Went], fibre_g: float | None, planned: float | None, uptake_g: float
) -> FibreShare | None:
    """W = fibre / (fibre + resin between the fibres), the resin applied less what peel ply, core and mesh take up."""
    wet = [w for w in went if w.purpose in _IN_THE_LAMINATE]
    if fibre_g is None or planned is None or not wet or any(w.used_g is None for w in wet):
        return None
    least = max(sum(w.applied_low_g for w in wet) - uptake_g, 0.0)
    most = max(sum(w.applied_high_g for w in wet) - uptake_g, 0.0)
    low, high = fibre_g / (fibre_g + most), fibre_g / (fibre_g + least)
    span = f"{low:.0%}" if f"{low:.0%}" == f"{high:.0%}" else f"{low * 100:.0f} to {high:.0%}"
    sentence = f"Fibre by mass comes to {span.replace('%', ' %')}; {planned * 100:.0f} % is planned."
    return FibreShare(planned=round(planned, 4), low=round(low, 4), high=round(high, 4), sentence=sentence)


def _g(grams: float) -> str:
    return f"{grams:.0f} g" if grams >= 100 else f"{grams:.1f} g".replace(".0 g", " g")


def _than(difference_pct: float) -> str:
    if abs(difference_pct) < _SAME_PCT:
        return ""
    return f", {abs(difference_pct):.0f} % {'more' if difference_pct > 0 else 'less'}"


def _known_to(low: float, high: float, estimated: str | None) -> str:
    if estimated is None:
        return ""
    return f" ({estimated})" if _g(low) == _g(high) else f" ({estimated}: {_g(low)} to {_g(high)})"


def _is(count: int) -> str:
    return "is" if count == 1 else "are"
