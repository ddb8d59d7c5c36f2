"""Letters for which the machine has no font: a paper has boxes in their place, and whoever draws or reads it is told.

A label with such a letter is refused (labels/fonts.py). A paper is not: on the morning of a recall a letter with a name
in boxes, and the serials to read, is more than none.
"""

import os
import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache
from html import unescape
from threading import Lock
from typing import Any

from markupsafe import escape

from labels.fonts import REGULAR, drawable, font_configuration
from labels.typesetting import set_alone
from service.reports.wording import listed, plural

_TURN = Lock()
_MOST_SHOWN = 12
_NEVER_SEEN = ("Cc", "Cf", "Cs", "Zs", "Zl", "Zp")
# What separates words in a report's JSON as well as in a sentence.
_WORD = re.compile(r'[^\s"\\,:;(){}\[\]]+')
# Whether the machine can draw a letter; what it has fonts for does not change while a process runs.
_known: dict[tuple[int, str], bool] = {}


def without_a_font(text: str) -> frozenset[str]:
    """Those letters of a text that no font of this machine has."""
    if text.isascii():
        return frozenset()
    process, asked = (
        os.getpid(),
        {one for one in set(text) - drawable(REGULAR) if unicodedata.category(one) not in _NEVER_SEEN},
    )
    new = sorted(one for one in asked if (process, one) not in _known)
    if new:
        missing = _tried(process, new)
        _known.update({(process, one): one not in missing for one in new})
    return frozenset(one for one in asked if not _known[process, one])


def _tried(process: int, letters: Iterable[str]) -> set[str]:
    """Set in a line of nothing else, by the engine that sets the papers: it knows what it had to leave out."""
    from weasyprint import HTML

    html = f"<html><body><p>{escape(' '.join(letters))}</p></body></html>"
    missing: set[str] = set()

    def draw() -> bytes:
        document = HTML(string=html).render(font_config=_fonts(process))
        pdf: bytes = document.write_pdf()
        missing.update(chr(point) for font in document.fonts.values() for point in font.missing)
        return pdf

    set_alone(_TURN, draw)
    return missing


@lru_cache(maxsize=1)
def _fonts(process: int) -> Any:
    return font_configuration()


def words_without_a_font(text: str) -> tuple[str, ...]:
    """The words of a text that have such a letter, each once."""
    missing = without_a_font(text)
    return tuple(dict.fromkeys(w for w in _WORD.findall(text) if not missing.isdisjoint(w))) if missing else ()


def told(words: tuple[str, ...]) -> str | None:
    """What whoever draws a paper with these words is told; nothing if there are none."""
    if not words:
        return None
    return (
        f"This machine has no font for {_some(words, 'word')}, so the paper has boxes there; its data has all letters. "
        "Install a font for them (Debian: fonts-noto-cjk, or fonts-noto), start the service again and issue the paper "
        "again."
    )


def _some(told_of: tuple[str, ...], noun: str) -> str:
    more = len(told_of) - _MOST_SHOWN
    return listed([*told_of[:_MOST_SHOWN], *([f"{plural(more, noun)} more"] if more > 0 else [])])


def noted(html: str, pictures: Iterable[str] = ()) -> str:
    """A page with its pictures that says at its end for which letters it has boxes: by their numbers."""
    missing = without_a_font(unescape(html)).union(*(without_a_font(unescape(one)) for one in pictures))
    if not missing:
        return html
    scripts = sorted({unicodedata.name(one, "unnamed").split()[0] for one in missing})
    numbers = _some(tuple(f"U+{ord(one):04X}" for one in sorted(missing)), "letter")
    note = (
        f"On this paper boxes stand for {plural(len(missing), 'letter')} for which the machine that drew it has no "
        f"font ({', '.join(scripts)}: {numbers}). The account has the text whole."
    )
    before, end, after = html.rpartition("</body>")
    return f'{before}<p class="caution">{escape(note)}</p>{end}{after}'
