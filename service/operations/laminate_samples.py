"""Samples cut from a part: fibre, resin and voids by volume from the measured density (shop rule 30)."""

from collections.abc import Mapping, Sequence
from typing import Any

from service.formulas.fibre_fractions import fractions_with_voids
from service.formulas.ranges import OutOfRange
from service.operations.after_trim import trim_figures
from service.records.parts import Part


def measured_on(row: Part, samples: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Each sample as measurements: its density, and the shares by volume as far as they can be told."""
    found: list[dict[str, Any]] = []
    for sample in samples:
        where = sample["zone"]
        density = {"name": f"laminate density, {where}", "value": sample["density_g_cm3"], "unit": "g/cm³"}
        shares = _shares(row, sample)
        if isinstance(shares, str):
            found.append({**density, "sentence": shares})
            continue
        said, percents = shares
        found.append({**density, "sentence": said})
        for name, percent in percents.items():
            high = sample.get("most_voids_pct") if name == "voids" else None
            found.append({"name": f"{name}, {where}", "value": percent, "unit": "%", "high": high})
    return found


def _shares(row: Part, sample: Mapping[str, Any]) -> tuple[str, dict[str, float]] | str:
    """Per cent of the volume with what they rest on, or in one sentence why they are not known."""
    densities = row.design.densities
    if densities is None:
        return "Shares by volume are not known: the design gives no densities of fibre and cured resin."
    by_mass, basis = sample.get("fibre_mass_fraction"), "measured on the sample"
    if by_mass is None:
        by_mass, basis = trim_figures(row).fibre_mass_fraction, "of the whole part, from its weighing after the trim"
    if by_mass is None:
        return "Shares by volume are not known: nobody measured the fibre by mass, on the sample or on the part."
    try:
        found = fractions_with_voids(
            fibre_mass_fraction=by_mass,
            fibre_density_g_cm3=densities["fibre_g_cm3"],
            matrix_density_g_cm3=densities["matrix_g_cm3"],
            laminate_density_g_cm3=sample["density_g_cm3"],
        )
    except OutOfRange as wrong:
        return f"Shares by volume are not known: {wrong}"
    return (
        f"Fibre {by_mass:.1%} by mass, {basis}.",
        {
            "fibre by volume": round(found.fibre_volume_fraction * 100, 2),
            "resin by volume": round(found.matrix_volume_fraction * 100, 2),
            "voids": round(found.void_fraction * 100, 2),
        },
    )
