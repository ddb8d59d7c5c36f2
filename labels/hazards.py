"""Hazard statements: from H-codes to signal word, pictograms and official wording.

Wording: Regulation (EC) No 1272/2008 (CLP), Annex III and Annex II in English, which takes over the UN GHS, Annex 3;
the codes H227, H303, H305, H313, H316, H320, H333, H401, H402 and their combinations stand in the UN GHS only.
Written from memory and compared with public transcriptions of the UN table (statement, pictogram, signal word) and of
the EUH statements; the official text itself was not read. Pictogram precedence: CLP Article 26, UN GHS 1.4.10.5.3,
read in transcription.

One code can stand for several categories (H242: organic peroxides of types C to F). The stricter category's signal
word and pictogram are taken, so a label may warn more than the supplier's, never less. The supplier's label and the
safety data sheet remain the authority.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from labels.errors import UnknownHazard

ORGANIC_PEROXIDE = frozenset({"H240", "H241", "H242"})
"""Heating statements of organic peroxides and self-reactive substances: never stored or scanned beside a promoter."""

_D, _W, _N = "DANGER", "WARNING", None

# code: (signal word, pictograms, statement)
_TABLE: dict[str, tuple[str | None, str, str]] = {
    "H200": (_D, "GHS01", "Unstable explosive."),
    "H201": (_D, "GHS01", "Explosive; mass explosion hazard."),
    "H202": (_D, "GHS01", "Explosive; severe projection hazard."),
    "H203": (_D, "GHS01", "Explosive; fire, blast or projection hazard."),
    "H204": (_W, "GHS01", "Fire or projection hazard."),
    "H205": (_D, "", "May mass explode in fire."),
    "H206": (
        _D,
        "GHS02",
        "Fire, blast or projection hazard; increased risk of explosion if desensitising agent is reduced.",
    ),
    "H207": (_D, "GHS02", "Fire or projection hazard; increased risk of explosion if desensitising agent is reduced."),
    "H208": (_W, "GHS02", "Fire hazard; increased risk of explosion if desensitising agent is reduced."),
    "H220": (_D, "GHS02", "Extremely flammable gas."),
    "H221": (_D, "GHS02", "Flammable gas."),
    "H222": (_D, "GHS02", "Extremely flammable aerosol."),
    "H223": (_W, "GHS02", "Flammable aerosol."),
    "H224": (_D, "GHS02", "Extremely flammable liquid and vapour."),
    "H225": (_D, "GHS02", "Highly flammable liquid and vapour."),
    "H226": (_W, "GHS02", "Flammable liquid and vapour."),
    "H227": (_W, "", "Combustible liquid."),
    "H228": (_D, "GHS02", "Flammable solid."),
    "H229": (_W, "", "Pressurised container: May burst if heated."),
    "H230": (_D, "GHS02", "May react explosively even in the absence of air."),
    "H231": (
        _D,
        "GHS02",
        "May react explosively even in the absence of air at elevated pressure and/or temperature.",
    ),
    "H232": (_D, "GHS02", "May ignite spontaneously if exposed to air."),
    "H240": (_D, "GHS01", "Heating may cause an explosion."),
    "H241": (_D, "GHS01 GHS02", "Heating may cause a fire or explosion."),
    "H242": (_D, "GHS02", "Heating may cause a fire."),
    "H250": (_D, "GHS02", "Catches fire spontaneously if exposed to air."),
    "H251": (_D, "GHS02", "Self-heating: may catch fire."),
    "H252": (_W, "GHS02", "Self-heating in large quantities; may catch fire."),
    "H260": (_D, "GHS02", "In contact with water releases flammable gases which may ignite spontaneously."),
    "H261": (_D, "GHS02", "In contact with water releases flammable gases."),
    "H270": (_D, "GHS03", "May cause or intensify fire; oxidiser."),
    "H271": (_D, "GHS03", "May cause fire or explosion; strong oxidiser."),
    "H272": (_D, "GHS03", "May intensify fire; oxidiser."),
    "H280": (_W, "GHS04", "Contains gas under pressure; may explode if heated."),
    "H281": (_W, "GHS04", "Contains refrigerated gas; may cause cryogenic burns or injury."),
    "H282": (_D, "GHS02 GHS04", "Extremely flammable chemical under pressure: May explode if heated."),
    "H283": (_W, "GHS02 GHS04", "Flammable chemical under pressure: May explode if heated."),
    "H284": (_W, "GHS04", "Chemical under pressure: May explode if heated."),
    "H290": (_W, "GHS05", "May be corrosive to metals."),
    "H300": (_D, "GHS06", "Fatal if swallowed."),
    "H301": (_D, "GHS06", "Toxic if swallowed."),
    "H302": (_W, "GHS07", "Harmful if swallowed."),
    "H303": (_W, "", "May be harmful if swallowed."),
    "H304": (_D, "GHS08", "May be fatal if swallowed and enters airways."),
    "H305": (_W, "GHS08", "May be harmful if swallowed and enters airways."),
    "H310": (_D, "GHS06", "Fatal in contact with skin."),
    "H311": (_D, "GHS06", "Toxic in contact with skin."),
    "H312": (_W, "GHS07", "Harmful in contact with skin."),
    "H313": (_W, "", "May be harmful in contact with skin."),
    "H314": (_D, "GHS05", "Causes severe skin burns and eye damage."),
    "H315": (_W, "GHS07", "Causes skin irritation."),
    "H316": (_W, "", "Causes mild skin irritation."),
    "H317": (_W, "GHS07", "May cause an allergic skin reaction."),
    "H318": (_D, "GHS05", "Causes serious eye damage."),
    "H319": (_W, "GHS07", "Causes serious eye irritation."),
    "H320": (_W, "", "Causes eye irritation."),
    "H330": (_D, "GHS06", "Fatal if inhaled."),
    "H331": (_D, "GHS06", "Toxic if inhaled."),
    "H332": (_W, "GHS07", "Harmful if inhaled."),
    "H333": (_W, "", "May be harmful if inhaled."),
    "H334": (_D, "GHS08", "May cause allergy or asthma symptoms or breathing difficulties if inhaled."),
    "H335": (_W, "GHS07", "May cause respiratory irritation."),
    "H336": (_W, "GHS07", "May cause drowsiness or dizziness."),
    "H340": (_D, "GHS08", "May cause genetic defects."),
    "H341": (_W, "GHS08", "Suspected of causing genetic defects."),
    "H350": (_D, "GHS08", "May cause cancer."),
    "H350i": (_D, "GHS08", "May cause cancer by inhalation."),
    "H351": (_W, "GHS08", "Suspected of causing cancer."),
    "H360": (_D, "GHS08", "May damage fertility or the unborn child."),
    "H360F": (_D, "GHS08", "May damage fertility."),
    "H360D": (_D, "GHS08", "May damage the unborn child."),
    "H360FD": (_D, "GHS08", "May damage fertility. May damage the unborn child."),
    "H360Fd": (_D, "GHS08", "May damage fertility. Suspected of damaging the unborn child."),
    "H360Df": (_D, "GHS08", "May damage the unborn child. Suspected of damaging fertility."),
    "H361": (_W, "GHS08", "Suspected of damaging fertility or the unborn child."),
    "H361f": (_W, "GHS08", "Suspected of damaging fertility."),
    "H361d": (_W, "GHS08", "Suspected of damaging the unborn child."),
    "H361fd": (_W, "GHS08", "Suspected of damaging fertility. Suspected of damaging the unborn child."),
    "H362": (_N, "", "May cause harm to breast-fed children."),
    "H370": (_D, "GHS08", "Causes damage to organs."),
    "H371": (_W, "GHS08", "May cause damage to organs."),
    "H372": (_D, "GHS08", "Causes damage to organs through prolonged or repeated exposure."),
    "H373": (_W, "GHS08", "May cause damage to organs through prolonged or repeated exposure."),
    "H300+H310": (_D, "GHS06", "Fatal if swallowed or in contact with skin."),
    "H300+H330": (_D, "GHS06", "Fatal if swallowed or if inhaled."),
    "H310+H330": (_D, "GHS06", "Fatal in contact with skin or if inhaled."),
    "H300+H310+H330": (_D, "GHS06", "Fatal if swallowed, in contact with skin or if inhaled."),
    "H301+H311": (_D, "GHS06", "Toxic if swallowed or in contact with skin."),
    "H301+H331": (_D, "GHS06", "Toxic if swallowed or if inhaled."),
    "H311+H331": (_D, "GHS06", "Toxic in contact with skin or if inhaled."),
    "H301+H311+H331": (_D, "GHS06", "Toxic if swallowed, in contact with skin or if inhaled."),
    "H302+H312": (_W, "GHS07", "Harmful if swallowed or in contact with skin."),
    "H302+H332": (_W, "GHS07", "Harmful if swallowed or if inhaled."),
    "H312+H332": (_W, "GHS07", "Harmful in contact with skin or if inhaled."),
    "H302+H312+H332": (_W, "GHS07", "Harmful if swallowed, in contact with skin or if inhaled."),
    "H303+H313": (_W, "", "May be harmful if swallowed or in contact with skin."),
    "H303+H333": (_W, "", "May be harmful if swallowed or if inhaled."),
    "H313+H333": (_W, "", "May be harmful in contact with skin or if inhaled."),
    "H303+H313+H333": (_W, "", "May be harmful if swallowed, in contact with skin or if inhaled."),
    "H315+H320": (_W, "GHS07", "Causes skin and eye irritation."),
    "H400": (_W, "GHS09", "Very toxic to aquatic life."),
    "H401": (_N, "", "Toxic to aquatic life."),
    "H402": (_N, "", "Harmful to aquatic life."),
    "H410": (_W, "GHS09", "Very toxic to aquatic life with long lasting effects."),
    "H411": (_N, "GHS09", "Toxic to aquatic life with long lasting effects."),
    "H412": (_N, "", "Harmful to aquatic life with long lasting effects."),
    "H413": (_N, "", "May cause long lasting harmful effects to aquatic life."),
    "H420": (
        _W,
        "GHS07",
        "Harms public health and the environment by destroying ozone in the upper atmosphere.",
    ),
    "EUH014": (_N, "", "Reacts violently with water."),
    "EUH018": (_N, "", "In use may form flammable/explosive vapour-air mixture."),
    "EUH019": (_N, "", "May form explosive peroxides."),
    "EUH029": (_N, "", "Contact with water liberates toxic gas."),
    "EUH031": (_N, "", "Contact with acids liberates toxic gas."),
    "EUH032": (_N, "", "Contact with acids liberates very toxic gas."),
    "EUH044": (_N, "", "Risk of explosion if heated under confinement."),
    "EUH066": (_N, "", "Repeated exposure may cause skin dryness or cracking."),
    "EUH070": (_N, "", "Toxic by eye contact."),
    "EUH071": (_N, "", "Corrosive to the respiratory tract."),
    "EUH202": (
        _N,
        "",
        "Cyanoacrylate. Danger. Bonds skin and eyes in seconds. Keep out of the reach of children.",
    ),
    "EUH203": (_N, "", "Contains chromium (VI). May produce an allergic reaction."),
    "EUH204": (_N, "", "Contains isocyanates. May produce an allergic reaction."),
    "EUH205": (_N, "", "Contains epoxy constituents. May produce an allergic reaction."),
    "EUH208": (_N, "", "Contains {named}. May produce an allergic reaction."),
    "EUH210": (_N, "", "Safety data sheet available on request."),
    "EUH211": (
        _N,
        "",
        "Warning! Hazardous respirable droplets may be formed when sprayed. Do not breathe spray or mist.",
    ),
    "EUH212": (_N, "", "Warning! Hazardous respirable dust may be formed when used. Do not breathe dust."),
    "EUH380": (_D, "", "May cause endocrine disruption in humans."),
    "EUH381": (_W, "", "Suspected of causing endocrine disruption in humans."),
    "EUH430": (_D, "", "May cause endocrine disruption in the environment."),
    "EUH431": (_W, "", "Suspected of causing endocrine disruption in the environment."),
}

STATEMENTS: dict[str, str] = {code: row[2] for code, row in _TABLE.items()}
"""Official statement of each code; that of EUH208 has the place `{named}` for the sensitising substance."""

_ORGANS = frozenset({"H370", "H371", "H372", "H373"})
_IRRITATION = frozenset({"H315", "H319", "H315+H320"})
_SKIN_OR_EYE_CORROSION = frozenset({"H314", "H318"})

_WRITTEN = re.compile(r"(?P<code>[^()]+?)\s*(?:\((?P<named>[^()]+)\))?")
_PART = re.compile(r"(?P<prefix>(?:EU)?H)(?P<rest>[0-9]{3}[A-Za-z]{0,2})", re.IGNORECASE)


@dataclass(frozen=True)
class Hazard:
    """What a label must say about a material."""

    signal_word: str | None
    pictograms: tuple[str, ...]
    statements: tuple[tuple[str, str], ...]


def _split(written: str) -> tuple[str, str | None]:
    whole = _WRITTEN.fullmatch(written.strip())
    parts = [_PART.fullmatch(part.strip()) for part in whole["code"].split("+")] if whole else [None]
    code = "+".join(part["prefix"].upper() + part["rest"] for part in parts if part)
    if whole is None or None in parts or code not in _TABLE:
        raise UnknownHazard(
            f"“{written.strip()[:40]}” is not a hazard code that the table knows: "
            "write it as in section 2 of the safety data sheet, such as H317, H302+H312 or EUH205."
        )
    named = whole["named"].strip() if whole["named"] else None
    if code == "EUH208" and not named:
        raise UnknownHazard("EUH208 needs the sensitising substance in brackets, such as “EUH208 (maleic anhydride)”.")
    if named and code != "EUH208" and code not in _ORGANS:
        raise UnknownHazard(f"{code} takes no words in brackets: only H370 to H373 (organs) and EUH208 (substance) do.")
    return code, named


def canonical(written: str) -> str:
    """The code as the table has it, from whatever case and spacing.

    >>> canonical("h302 + h312")
    'H302+H312'

    Raises:
        UnknownHazard: the code isn't in the table.
    """
    return _split(written)[0]


def statement(written: str) -> tuple[str, str]:
    """Code and official statement; organs or the sensitising substance may stand in brackets.

    >>> statement("H372 (hearing organs)")
    ('H372', 'Causes damage to organs (hearing organs) through prolonged or repeated exposure.')

    Raises:
        UnknownHazard: the code isn't in the table, or EUH208 names no substance.
    """
    code, named = _split(written)
    text = STATEMENTS[code]
    if named and code in _ORGANS:
        text = text.replace("organs", f"organs ({named})", 1)
    return code, text.format(named=named) if code == "EUH208" else text


def _pictograms(codes: Iterable[str]) -> tuple[str, ...]:
    called_for: dict[str, set[str]] = {}
    for code in codes:
        for pictogram in _TABLE[code][1].split():
            called_for.setdefault(pictogram, set()).add(code)
    present = {code for reasons in called_for.values() for code in reasons}
    reasons = called_for.pop("GHS07", set())
    # UN GHS 1.4.10.5.3.1 gives precedence among health hazards; ozone (H420) is none, and the corrosion symbol for
    # metals alone (H290) says nothing of skin or eyes, so neither takes the exclamation mark away.
    if "GHS06" in called_for:
        reasons = reasons & {"H420"}
    if present & _SKIN_OR_EYE_CORROSION:
        reasons = reasons - _IRRITATION
    if "H334" in present:
        reasons = reasons - _IRRITATION - {"H317"}
    return tuple(sorted({*called_for, *(["GHS07"] if reasons else [])}))


def hazard_block(h_codes: Iterable[str]) -> Hazard:
    """Signal word, all pictograms and all statements for these codes (shop rule 40), in the order of the codes.

    >>> hazard_block(["H317", "H314"]).pictograms
    ('GHS05', 'GHS07')

    Raises:
        UnknownHazard: a code isn't in the table.
    """
    statements = sorted({statement(written) for written in h_codes}, key=lambda pair: (pair[0].startswith("E"), pair))
    codes = [code for code, _ in statements]
    words = {_TABLE[code][0] for code in codes}
    return Hazard(
        signal_word=_D if _D in words else _W if _W in words else None,
        pictograms=_pictograms(codes),
        statements=tuple(statements),
    )
