"""Whether a laminate is symmetric and whether it is balanced (shop rule 31). The two words are not interchangeable.

- ``Ply``: one ply; :func:`check_laminate`: both answers and why.
- :func:`is_symmetric`: mirror about the midplane in material, weight, angle and face.
- :func:`is_balanced`: each +angle has an equal −angle; 0° and 90° need no partner.
- :func:`mirrored`: the plies that make a half into a symmetric whole.

Angles are those of one drawing, seen from one side throughout; 180° further is the same direction. Gel coat is left
out: it is no ply. A laminate that is not symmetric warps as it cools; whether that matters is for the designer.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

from service.formulas.ranges import OutOfRange, within

__all__ = ["LaminateCheck", "Ply", "check_laminate", "is_balanced", "is_symmetric", "mirrored"]

Face = Literal["up", "down"]
Weave = Literal["unidirectional", "woven", "biaxial", "mat", "gel coat"]

TURNED: dict[Face | None, Face | None] = {"up": "down", "down": "up", None: None}


@dataclass(frozen=True, slots=True)
class Ply:
    """One ply of a laminate.

    Attributes
    ----------
    material_name : str
        What it is; equal words are the same material [text].
    areal_weight_g_m2 : float
        Areal weight, above 0 and at most 50,000 [g/m²].
    angle_deg : float
        Direction of the fibres, −360 to 360: the warp of a weave, and of a biaxial cloth the layer on its face, so that
        a stitched ±45 lies at 45 or −45; without meaning for a mat [°].
    face : str or None
        Where the face looks, "up" or "down"; None where both sides are alike. A biaxial cloth always has one [text].
    weave : str
        "unidirectional", "woven" (two directions at right angles in one layer), "biaxial" (two stitched layers at right
        angles), "mat" (no direction: mat, foam, fleece) or "gel coat" (left out) [text].
    """

    material_name: str
    areal_weight_g_m2: float
    angle_deg: float
    face: Face | None
    weave: Weave

    def __post_init__(self) -> None:
        within("areal_weight_g_m2", self.areal_weight_g_m2, 0, 50_000, above=True, unit="g/m²")
        within("angle_deg", self.angle_deg, -360, 360, unit="°")
        if self.weave not in get_args(Weave):
            raise OutOfRange("weave", repr(self.weave)[:40], f"one of {', '.join(get_args(Weave))}")
        if self.face not in (None, *get_args(Face)):
            raise OutOfRange("face", repr(self.face)[:40], "up, down or None")
        if self.weave == "biaxial" and self.face is None:
            raise OutOfRange("face", None, "up or down for a biaxial ply, whose two layers differ")


@dataclass(frozen=True, slots=True)
class LaminateCheck:
    """Whether a laminate is symmetric and balanced, and why.

    Attributes
    ----------
    symmetric : bool
        Mirror about the midplane [-].
    balanced : bool
        Each +angle has an equal −angle [-].
    sentences : tuple of str
        The reasons in words, plies counted from 1 as laid [text].
    """

    symmetric: bool
    balanced: bool
    sentences: tuple[str, ...]


def is_symmetric(*, plies: Sequence[Ply]) -> bool:
    """Whether a laminate is its own mirror image about the midplane.

    Ply ``i`` from the one side equals ply ``i`` from the other in material, weight, weave and angle, with its face
    turned. A woven ply is the same at 0 and 90°. A stitched ±45 at the same angle turns its face across the midplane. A
    ply in the middle must be its own mirror image: a biaxial cloth, or a weave with a face, is not.

    Parameters
    ----------
    plies : sequence of Ply
        The plies in the order of laying [text, g/m², °].

    Returns
    -------
    bool
        Symmetric or not [-].

    Raises
    ------
    OutOfRange
        If there is no ply, or more than 1000.

    Valid range
    -----------
    1 to 1000 plies, gel coat not counted.

    Examples
    --------
    >>> outer = Ply("glass", 160, 0, None, "woven")
    >>> inner = Ply("glass", 300, 0, None, "woven")
    >>> is_symmetric(plies=[outer, inner, inner, outer]), is_symmetric(plies=[outer, inner])
    (True, False)

    Source
    ------
    Shop rule 31; classical laminate theory, B = 0.
    """
    return not _unlike_pairs(_counted(plies))


def is_balanced(*, plies: Sequence[Ply]) -> bool:
    """Whether every direction at +angle has an equal one at −angle.

    Directions at 0° and 90° need no partner, and a mat has none. A weave or a stitched cloth at 45° is its own partner.
    Equal means the same material, weight and weave.

    Parameters
    ----------
    plies : sequence of Ply
        The plies in any order [text, g/m², °].

    Returns
    -------
    bool
        Balanced or not [-].

    Raises
    ------
    OutOfRange
        If there is no ply, or more than 1000.

    Valid range
    -----------
    1 to 1000 plies, gel coat not counted; weaves and stitched cloths with the same weight in both directions.

    Examples
    --------
    >>> plus = Ply("carbon", 200, 45, None, "unidirectional")
    >>> minus = Ply("carbon", 200, -45, None, "unidirectional")
    >>> is_balanced(plies=[plus, minus]), is_balanced(plies=[plus, plus])
    (True, False)

    Source
    ------
    Shop rule 31; classical laminate theory, A16 = A26 = 0.
    """
    return not _without_partner(_counted(plies))


def check_laminate(*, plies: Sequence[Ply]) -> LaminateCheck:
    """Whether a laminate is symmetric and balanced, with the reasons in words.

    Parameters
    ----------
    plies : sequence of Ply
        The plies in the order of laying [text, g/m², °].

    Returns
    -------
    LaminateCheck
        Both answers and the reasons [-].

    Raises
    ------
    OutOfRange
        If there is no ply, or more than 1000.

    Valid range
    -----------
    1 to 1000 plies, gel coat not counted.

    Examples
    --------
    >>> check_laminate(plies=[Ply("glass", 600, 45, "up", "biaxial"), Ply("glass", 600, 45, "up", "biaxial")]).sentences
    ('Not symmetric: ply 1 and ply 2 look the same way; the face turns across the midplane.', 'Balanced.')

    Source
    ------
    Shop rule 31.
    """
    counted = _counted(plies)
    unlike, lonely = _unlike_pairs(counted), _without_partner(counted)
    sentences = [f"Not symmetric: {reason}." for reason in unlike] or ["Symmetric."]
    sentences += [f"Not balanced: {reason}." for reason in lonely] or ["Balanced."]
    return LaminateCheck(not unlike, not lonely, tuple(sentences))


def mirrored(*, plies: Sequence[Ply]) -> tuple[Ply, ...]:
    """The mirror image of some plies: laid after them, it makes the whole symmetric.

    Parameters
    ----------
    plies : sequence of Ply
        The plies in the order of laying [text, g/m², °].

    Returns
    -------
    tuple of Ply
        The same plies, last first, faces turned; gel coat left out [text, g/m², °].

    Raises
    ------
    OutOfRange
        If there is no ply, or more than 1000.

    Valid range
    -----------
    1 to 1000 plies, gel coat not counted.

    Examples
    --------
    >>> [ply.face for ply in mirrored(plies=[Ply("glass", 600, 45, "up", "biaxial")])]
    ['down']

    Source
    ------
    Shop rule 31.
    """
    return tuple(replace(ply, face=TURNED[ply.face]) for _, ply in reversed(_counted(plies)))


def _counted(plies: Sequence[Ply]) -> list[tuple[int, Ply]]:
    """Plies with their numbers as laid, gel coat left out but counted in the numbering."""
    counted = [(number, ply) for number, ply in enumerate(plies, 1) if ply.weave != "gel coat"]
    if not 1 <= len(counted) <= 1000:
        raise OutOfRange("plies", f"a list of {len(counted)}", "a list of 1 to 1000 plies, gel coat not counted")
    return counted


def _direction(ply: Ply) -> float:
    """The angle within the turn after which the ply is the same again: none for a mat, 90° for a weave."""
    if ply.weave == "mat":
        return 0.0
    # A biaxial cloth with its face down has the face layer below; counted is the layer that lies on top.
    top = ply.angle_deg + (90 if ply.weave == "biaxial" and ply.face == "down" else 0)
    turn = 90 if ply.weave == "woven" else 180
    return round(top % turn, 6) % turn


def _visible_face(ply: Ply) -> Face | None:
    """A face that matters: only a weave has one apart from its angle."""
    return ply.face if ply.weave == "woven" else None


def _seen(ply: Ply) -> tuple[str, float, str, float, Face | None]:
    return ply.material_name, float(ply.areal_weight_g_m2), ply.weave, _direction(ply), _visible_face(ply)


def _unlike_pairs(counted: list[tuple[int, Ply]]) -> list[str]:
    reasons = []
    for index in range((len(counted) + 1) // 2):
        (number, ply), (partner_number, partner) = counted[index], counted[-1 - index]
        turned = replace(partner, face=TURNED[partner.face])
        if _seen(ply) == _seen(turned):
            continue
        if number == partner_number:
            reasons.append(f"ply {number} lies in the middle and its two sides differ")
        elif (ply.material_name, ply.areal_weight_g_m2, ply.weave) != (
            partner.material_name,
            partner.areal_weight_g_m2,
            partner.weave,
        ):
            reasons.append(f"ply {number} ({_named(ply)}) stands opposite ply {partner_number} ({_named(partner)})")
        elif _seen(ply) == _seen(partner):
            reasons.append(
                f"ply {number} and ply {partner_number} look the same way; the face turns across the midplane"
            )
        elif _direction(ply) != _direction(turned):
            reasons.append(
                f"ply {number} at {ply.angle_deg:g}° stands opposite ply {partner_number} at {partner.angle_deg:g}°"
            )
        else:
            reasons.append(f"the face of ply {number} or ply {partner_number} is not given")
    return reasons


def _named(ply: Ply) -> str:
    return f"{ply.material_name} {ply.areal_weight_g_m2:g} g/m² {ply.weave}"


def _without_partner(counted: list[tuple[int, Ply]]) -> list[str]:
    directions: Counter[tuple[str, float, str, float]] = Counter()
    for _, ply in counted:
        if ply.weave != "mat":
            # Two directions at right angles are the same after 90°, whichever layer is on top.
            turn = 180 if ply.weave == "unidirectional" else 90
            angle = round(ply.angle_deg % turn, 6) % turn
            directions[ply.material_name, float(ply.areal_weight_g_m2), ply.weave, angle] += 1
    reasons = []
    for (material, weight, weave, angle), count in sorted(directions.items()):
        turn = 180 if weave == "unidirectional" else 90
        opposite = round(-angle % turn, 6) % turn
        if angle in (0, 90) or angle == opposite:
            continue
        partners = directions[material, weight, weave, opposite]
        if count > partners:
            signed, needed = (_signed(each, turn) for each in (angle, opposite))
            cloth = f"{material} {weight:g} g/m² {weave}"
            reasons.append(f"{cloth} lies {count} times at {signed:+g}° and {partners} times at {needed:+g}°")
    return reasons


def _signed(angle: float, turn: int) -> float:
    return angle if angle <= turn / 2 else angle - turn
