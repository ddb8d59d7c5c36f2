"""The label's typeface and its own widths, so that a text is known to fit before it is set.

Source Sans Pro from the package font-source-sans-pro: lining figures of one width are its default, the slashed zero is
its OpenType feature `zero` and as wide as the plain one. Kerning is left out of the measure; it nearly always narrows.
"""

import atexit
import os
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from shutil import rmtree
from typing import Any

from labels.errors import BadFact

FAMILY = "Source Sans Pro"
REGULAR, SEMIBOLD, BOLD, BLACK = 400, 600, 700, 900
WEIGHTS = {REGULAR: "Regular", SEMIBOLD: "Semibold", BOLD: "Bold", BLACK: "Black"}

MM_PER_PT = 25.4 / 72
ASCENT, DESCENT, CAP_HEIGHT = 0.984, 0.273, 0.660
"""Of the em, from the font's own tables (hhea, OS/2); a test reads them again."""


@dataclass(frozen=True)
class _Face:
    glyphs: dict[int, str]
    advances: dict[str, tuple[int, int]]
    units_per_em: int


def font_file(weight: int) -> Path:
    """The font file of a weight."""
    import font_source_sans_pro

    return Path(font_source_sans_pro.font_directory) / f"SourceSansPro-{WEIGHTS[weight]}.ttf"


def font_configuration() -> Any:
    """WeasyPrint's place for the fonts of this process; its folder goes with the process.

    WeasyPrint removes it as the interpreter goes, when it may no longer have the means.
    """
    from weasyprint.text.fonts import FontConfiguration

    fonts = FontConfiguration()
    atexit.register(_remove_folder, fonts, os.getpid())
    return fonts


def _remove_folder(fonts: Any, process: int) -> None:
    folder, fonts._folder = fonts._folder, None
    # A child that was forked off since goes without it.
    if folder is not None and process == os.getpid():
        rmtree(folder, ignore_errors=True)


@cache
def _face(weight: int) -> _Face:
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    with TTFont(font_file(weight), lazy=True) as font:
        return _Face(dict(font.getBestCmap()), dict(font["hmtx"].metrics), font["head"].unitsPerEm)


@cache
def drawable(weight: int) -> frozenset[str]:
    """The characters that the font of a weight has."""
    return frozenset(map(chr, _face(weight).glyphs))


@lru_cache(maxsize=4096)
def _width_em(text: str, weight: int) -> float:
    face = _face(weight)
    try:
        return sum(face.advances[face.glyphs[ord(char)]][0] for char in text) / face.units_per_em
    except KeyError:
        missing = next(char for char in text if ord(char) not in face.glyphs)
        raise BadFact(f"The label font cannot print the character “{missing}” in “{text}”.") from None


def width_mm(text: str, weight: int, size_pt: float) -> float:
    """Width of a line of text [mm].

    Raises:
        BadFact: the font has no glyph for a character of the text.
    """
    return _width_em(text, weight) * size_pt * MM_PER_PT
