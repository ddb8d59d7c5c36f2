"""What is told of a pot that a peroxide starts: its range, what is in, what is to be done next, the cautions."""

from dataclasses import dataclass

from service.operations.pots.catalysts import CAUTIONS
from service.operations.pots.dosing import dose_of, percent_of, promoter_pct, step_of
from service.operations.pots.pot import Pot


@dataclass(frozen=True, slots=True)
class DoseView:
    """The line of the catalyst's table for the resin's temperature, in per cent of the resin as delivered."""

    temperature_from_c: float
    temperature_to_c: float
    lowest_pct: float
    target_pct: float
    highest_pct: float


@dataclass(frozen=True, slots=True)
class PeroxideView:
    """What a peroxide-cured pot has besides the others.

    Attributes
    ----------
    dose
        None where the resin's temperature is not known, or the sheet has no line for it: then it is asked.
    catalyst_pct
        Of the resin as delivered, as poured.
    promoter_pct
        Of the resin as delivered, as poured; none where the resin came with it in.
    step
        What is to be done next, in the order that keeps promoter and peroxide apart.
    """

    catalyst_name: str
    promoter_name: str | None
    dose: DoseView | None
    catalyst_pct: float | None
    promoter_pct: float | None
    step: str | None
    cautions: tuple[str, ...]


def view_peroxide(pot: Pot) -> PeroxideView | None:
    if pot.catalyst is None:
        return None
    row, promoter = dose_of(pot), pot.catalyst["promoter"]
    return PeroxideView(
        catalyst_name=pot.hardener["name"],
        promoter_name=None if promoter is None else promoter["name"],
        dose=None if row is None else DoseView(**{name: getattr(row, name) for name in DoseView.__slots__}),
        catalyst_pct=percent_of(pot),
        promoter_pct=promoter_pct(pot),
        step=step_of(pot),
        cautions=CAUTIONS,
    )


def told_catalyst(pot: Pot) -> str | None:
    """One line on the peroxide of a pot: how much, of what is allowed, and the promoter."""
    if pot.catalyst is None:
        return None
    row, poured, promoted = dose_of(pot), percent_of(pot), promoter_pct(pot)
    said = [f"{pot.hardener['name']} {poured:.2f} % of the resin" if poured is not None else "No catalyst is in it"]
    if row is not None:
        said.append(
            f"{row.lowest_pct:g} to {row.highest_pct:g} % allowed at {row.temperature_from_c:g} to "
            f"{row.temperature_to_c:g} °C"
        )
    else:
        said.append("without a figure for its temperature")
    if promoted is not None:
        promoter = pot.catalyst["promoter"]["name"]
        said.append(f"{promoter} {promoted:.2f} %" if pot.promoter_mg else f"no {promoter}")
    return ", ".join(said) + "."
