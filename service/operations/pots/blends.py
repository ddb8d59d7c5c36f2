"""Two hardeners of one system as one recipe: what the supplier allows, and the ratio that follows (shop rule 21)."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.formulas.ratio_forms import blend_ratio, ratio_from_phr
from service.operations.door.refusals import Unprocessable
from service.records.materials import SystemHardener


@dataclass(frozen=True, slots=True)
class BlendPart:
    """A hardener of the system in a blend, with its share by mass."""

    material: int
    name: str
    fraction_pct: float
    ratio: float


@dataclass(frozen=True, slots=True)
class BlendView:
    """A blend of two hardeners.

    Attributes
    ----------
    tolerance_pct
        How far the fraction of the first may be out, in points of per cent.
    own_ratio
        True where the supplier states a ratio for the blend itself; else it follows from those of its hardeners.
    """

    of: tuple[BlendPart, ...]
    tolerance_pct: float
    source: str
    own_ratio: bool


def view_blend(kept: Mapping[str, Any] | None) -> BlendView | None:
    if kept is None:
        return None
    parts = tuple(BlendPart(**part) for part in kept["of"])
    return BlendView(parts, kept["tolerance_pct"], kept["source"], kept["own_ratio"])


def kept_blend(given: Mapping[str, Any] | None, own: Sequence[SystemHardener], at: str) -> dict[str, Any] | None:
    """A blend as it is kept: of hardeners that stand before it in the system, its fractions adding up to all of it."""
    if given is None:
        return None
    known = {h.material_id: h for h in own if h.blend is None}
    parts = []
    for number, part in enumerate(given["of"]):
        hardener = known.get(part["material"])
        if hardener is None:
            raise Unprocessable(
                "A blend is of hardeners of the same system, each entered before it with its own ratio.",
                pointer=f"{at}/blend/of/{number}/material",
            )
        parts.append(
            {
                "material": hardener.material_id,
                "name": hardener.material.name,
                "fraction_pct": part["fraction_pct"],
                "ratio": ratio_from_phr(phr=hardener.parts_by_weight),
            }
        )
    if parts[0]["material"] == parts[1]["material"]:
        raise Unprocessable("A blend is of two hardeners.", pointer=f"{at}/blend/of/1/material")
    if abs(sum(part["fraction_pct"] for part in parts) - 100) > 0.01:
        raise Unprocessable("The fractions of a blend add up to 100 %.", pointer=f"{at}/blend/of")
    return {"of": parts, "tolerance_pct": given["tolerance_pct"], "source": given["source"], "own_ratio": False}


def ratio_of_blend(blend: Mapping[str, Any]) -> float:
    """Grams of blend to a gram of resin, from the ratios of its hardeners."""
    shares = [part["fraction_pct"] for part in blend["of"]]
    return blend_ratio(
        ratios=[part["ratio"] for part in blend["of"]], mass_fractions=[share / sum(shares) for share in shares]
    )


def blend_as_asked(row: SystemHardener) -> dict[str, Any] | None:
    """A blend as it was entered."""
    kept = row.blend
    if kept is None:
        return None
    of = [{"material": part["material"], "fraction_pct": part["fraction_pct"]} for part in kept["of"]]
    return {"of": of, "tolerance_pct": kept["tolerance_pct"], "source": kept["source"]}
