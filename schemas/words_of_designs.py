"""Words of cloth and of how it is cut and laid."""

from enum import StrEnum


class FabricForm(StrEnum):
    WOVEN = "woven"
    UNIDIRECTIONAL = "unidirectional"
    MULTIAXIAL = "multiaxial"
    MAT = "mat"


class Grain(StrEnum):
    """How a piece may lie on a roll: its own length along it, across it, or either way."""

    ALONG = "along"
    ACROSS = "across"
    ANY = "any"


class MirrorAbout(StrEnum):
    MIDPLANE = "midplane"
    CENTRELINE = "centreline"
