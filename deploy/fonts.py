"""Make the pages' fonts again: Latin subsets of Source Sans Pro as WOFF2, about 17 kB a weight.

    .venv/bin/python deploy/fonts.py

Needs fonttools and brotli, which come with WeasyPrint. The Open Font License reserves the original's name for the
original, so the subsets carry another one; its text lies beside them.
"""

import shutil
from importlib.resources import files
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

FAMILY = "Potmark Sans"
WEIGHTS = ("Regular", "Semibold", "Bold")
UNICODES = (
    "U+0020-007E,U+00A0-017F,U+02C6,U+02DC,U+03B8,U+03BC,U+2002-200A,U+2010-2015,U+2018-201E,U+2022,U+2026,U+202F,U+2030,"
    "U+2032-2033,U+2070,U+2074-2079,U+2080-2089,U+20AC,U+2103,U+2190-2193,U+2212,U+2215,U+2248,U+2260,U+2264-2265"
)
FEATURES = ["kern", "liga", "tnum", "lnum", "pnum", "zero", "case", "ccmp", "locl", "mark", "mkmk"]

_FAMILY_NAMES, _STYLE_NAMES, _FULL_NAME, _POSTSCRIPT_NAME, _UNIQUE_NAME = (1, 16), (2, 17), 4, 6, 3


def make(source: Path, weight: str, target: Path) -> None:
    """One weight, cut down and renamed."""
    options = subset.Options(flavor="woff2", layout_features=FEATURES, hinting=False, desubroutinize=True)
    options.name_IDs = ["*"]
    font = subset.load_font(str(source), options)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=subset.parse_unicodes(UNICODES))
    cutter.subset(font)
    _rename(font, weight)
    subset.save_font(font, str(target), options)


def _rename(font: TTFont, weight: str) -> None:
    short = f"{FAMILY.replace(' ', '')}-{weight}"
    for record in list(font["name"].names):
        if record.nameID in _FAMILY_NAMES:
            record.string = FAMILY
        elif record.nameID in (_FULL_NAME, _UNIQUE_NAME):
            record.string = f"{FAMILY} {weight}"
        elif record.nameID == _POSTSCRIPT_NAME:
            record.string = short
        elif record.nameID not in (0, 5, 13, 14, *_STYLE_NAMES):
            font["name"].removeNames(nameID=record.nameID)
    face = font["CFF "].cff
    face.fontNames[0] = short
    top = face.topDictIndex[0]
    top.FullName, top.FamilyName = f"{FAMILY} {weight}", FAMILY


def main() -> None:
    source = Path(str(files("font_source_sans_pro"))) / "files"
    target = Path(__file__).resolve().parent.parent / "service" / "pages" / "static" / "fonts"
    target.mkdir(parents=True, exist_ok=True)
    for weight in WEIGHTS:
        made = target / f"potmark-sans-{weight.lower()}.woff2"
        make(source / f"SourceSansPro-{weight}.otf", weight, made)
        print(f"{made.name}: {made.stat().st_size / 1000:.1f} kB")
    shutil.copyfile(source / "LICENSE.txt", target / "LICENSE.txt")


if __name__ == "__main__":
    main()
