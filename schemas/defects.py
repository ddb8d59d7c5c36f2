"""Defects in the trade's words, and what is meant by those whose name does not say it."""

from enum import StrEnum


class DefectKind(StrEnum):
    SOFT = "soft"
    DRY = "dry area"
    RESIN_RICH = "resin-rich area"
    VOID = "void"
    POROSITY = "porosity"
    DELAMINATION = "delamination"
    BRIDGING = "bridging"
    WRINKLE = "wrinkle"
    PRINT_THROUGH = "print-through"
    CRACK = "crack"
    BLISTER = "blister"
    PINHOLE = "pinhole"
    CONTAMINATION = "contamination"
    WARP = "warp"
    THICKNESS = "thickness"
    DAMAGE = "damage"
    DISBOND = "disbond"
    KISSING_BOND = "kissing bond"
    FISH_EYE = "fish-eye"
    ALLIGATORING = "alligatoring"
    PRE_RELEASE = "pre-release"
    SAG = "sag"
    CRAZING = "crazing"
    STAR_CRACK = "star crack"
    AMINE_BLUSH = "amine blush"
    TACKY_SURFACE = "tacky surface"
    SCORCH = "scorch"
    FIBRE_WAVINESS = "fibre waviness"
    BACKING_LEFT_IN = "backing left in"
    CORE_CRUSH = "core crush"


# Common practice, no source.
DEFECTS = {
    DefectKind.DISBOND: "the bond between skin and core, or between two parts, is open where it was meant to hold",
    DefectKind.KISSING_BOND: "a bond that touches and carries nothing: no gap is seen or heard",
    DefectKind.FISH_EYE: "gel coat drew back from a spot of grease or silicone while wet",
    DefectKind.ALLIGATORING: "gel coat wrinkled like hide: styrene attacked a coat too thin or too soft",
    DefectKind.PRE_RELEASE: "gel coat let go of the mould before its laminate lay on it",
    DefectKind.SAG: "gel coat or resin ran down a steep side and stood thick at its foot",
    DefectKind.CRAZING: "fine cracks in a net, gel coat or resin alone",
    DefectKind.STAR_CRACK: "cracks that run out from a point: a blow or a hard demoulding",
    DefectKind.AMINE_BLUSH: "a waxy or sticky film of an amine hardener with water and carbon dioxide of the air",
    DefectKind.TACKY_SURFACE: "it stays sticky where the air got at it, though it is hard beneath",
    DefectKind.SCORCH: "brown, cracked or porous where the resin's own heat burnt it",
    DefectKind.FIBRE_WAVINESS: "fibres run in waves, in the plane of the ply or out of it",
    DefectKind.BACKING_LEFT_IN: "backing paper or film of a prepreg or a film adhesive was laid in",
    DefectKind.CORE_CRUSH: "core pressed in or pushed aside at an edge or under pressure",
}
