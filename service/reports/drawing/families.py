"""A dense genealogy as families: what feeds many is named by a letter, and each family is drawn by itself.

A pot with its parts is a family, and so are pots, kits and cures that share parts. Lots and containers feed many of
them, and so may one pot or one oven's cure: such a source has a letter, and whatever came of it bears that letter in
place of a line across the page. Every link is thus either a short line inside a family or a letter.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from schemas.words import Kind
from service.reports.drawing.boxes import (
    BOX,
    LEVELS,
    NOUNS,
    WIDTH,
    Relation,
    box,
    counted,
    frame,
    height_of,
    line,
    svg,
    text,
)
from service.reports.drawing.marks import SOFT_INK

# A page of A4 has 247 mm within these margins, which is 933 px; its heading and notes need some of them.
PAGE = 840.0
_SLOT, _ACROSS = 67.2, 10
_BETWEEN, _PAD, _GAP = 22.0, 7.0, 8.0
# A family of wider rows, or more lines than the eye follows, is drawn without that which leads to most: a letter.
_WIDEST, _MOST_LINES = 9, 20
# So many that came of the very same sources have one heading; fewer bear their letters themselves.
_ALIKE = 3

Links = Mapping[str, Sequence[str]]


@dataclass(slots=True)
class _Page:
    """What is drawn on one page, from the top."""

    body: list[str] = field(default_factory=list)
    y: float = 0.0


def families_svgs(things: Sequence[Relation], edges: Iterable[tuple[str, str]], title: str) -> list[str]:
    """The drawing, a picture for each page that it needs."""
    known = {t.code: t for t in things}
    into, out_of = _both_ways(edges)
    hubs = _hubs(known, into, out_of)
    letters = {source: _letter(place) for place, source in enumerate(hubs)}
    tags = {c: [letters[s] for s in sorted(into[c]) if s in letters] for c in known}
    pages = [_Page()]
    _sources(pages, [known[h] for h in hubs], letters, tags, into)
    alone: dict[tuple[int, tuple[str, ...]], list[Relation]] = defaultdict(list)
    families = []
    for family in _components(known, into, set(hubs)):
        if len(family) == 1:
            one = known[family[0]]
            alone[_level(one), tuple(tags[one.code])].append(one)
        else:
            families.append(_Family([known[c] for c in family], into, tags))
    _shelves(pages, sorted(families, key=lambda f: (-f.failed, -f.held, f.things[0].code)))
    few: dict[int, list[Relation]] = defaultdict(list)
    for (level, from_), group in sorted(alone.items(), key=lambda pair: (-pair[0][0], pair[0][1])):
        if len(group) < _ALIKE:
            few[level] += group
        else:
            said = f" of {', '.join(from_)}" if from_ else ""
            _alone(pages, group, f"{counted(group, NOUNS[level])}{said}", {})
    for level in sorted(few, reverse=True):
        _alone(pages, few[level], counted(few[level], NOUNS[level]), tags)
    return [svg(page.y, title, page.body) for page in pages]


def _both_ways(edges: Iterable[tuple[str, str]]) -> tuple[dict[str, list[str]], dict[str, list[str]]]:
    into: dict[str, list[str]] = defaultdict(list)
    out_of: dict[str, list[str]] = defaultdict(list)
    for source, target in edges:
        into[target].append(source)
        out_of[source].append(target)
    return into, out_of


def _level(one: Relation) -> int:
    return next(n for n, kinds in enumerate(LEVELS) if one.kind in kinds)


def _row(one: Relation) -> int:
    """Pots, kits and cures go into parts side by side, so that no line runs behind a box."""
    return min(_level(one), 2) if one.kind != Kind.PART else 3


def _hubs(known: Mapping[str, Relation], into: Links, out_of: Links) -> list[str]:
    """Lots, each with its containers after it; and whatever else makes a family too large to be drawn as one."""
    lots = sorted(c for c, t in known.items() if t.kind == Kind.LOT)
    cans = sorted(c for c, t in known.items() if t.kind == Kind.CONTAINER)
    found = []
    for lot in lots:
        found += [lot, *(c for c in cans if lot in into[c])]
    found += [c for c in cans if c not in found]
    more: set[str] = set()
    while large := [f for f in _components(known, into, {*found, *more}) if _is_large(f, known, into)]:
        # A part that was fitted into another goes on being drawn with what it is made of.
        feeding = [[c for c in family if known[c].kind != Kind.PART and len(out_of[c]) > 1] for family in large]
        leading = {max(family, key=lambda c: (len(out_of[c]), c)) for family in feeding if family}
        if not leading:
            break
        more |= leading
    return [*found, *sorted(more)]


def _is_large(family: Sequence[str], known: Mapping[str, Relation], into: Links) -> bool:
    rows = Counter(_row(known[c]) for c in family)
    inside = set(family)
    lines = sum(source in inside for c in family for source in into[c])
    return max(rows.values()) > _WIDEST or lines > _MOST_LINES


def _components(known: Mapping[str, Relation], into: Links, hubs: set[str]) -> list[list[str]]:
    """What hangs together without the hubs, each in the order of levels."""
    leader = {c: c for c in known if c not in hubs}

    def head(one: str) -> str:
        while leader[one] != one:
            leader[one] = leader[leader[one]]
            one = leader[one]
        return one

    for target in leader:
        for source in into[target]:
            if source in leader:
                leader[head(target)] = head(source)
    found: dict[str, list[str]] = defaultdict(list)
    for one in sorted(leader):
        found[head(one)].append(one)
    return list(found.values())


def _letter(place: int) -> str:
    """a to z, then aa, ab and so on.

    >>> [_letter(n) for n in (0, 25, 26, 53)]
    ['a', 'z', 'aa', 'bb']
    """
    said = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        said = chr(ord("a") + rest) + said
    return said


class _Family:
    """The boxes of one family in rows by level, each near what it came from."""

    def __init__(self, things: Sequence[Relation], into: Links, tags: Mapping[str, Sequence[str]]) -> None:
        self.things, self.into, self.tags = things, into, tags
        codes = {t.code for t in things}
        self.inside = {t.code: [s for s in into[t.code] if s in codes] for t in things}
        self.rows = [row for level in self._levels() for row in _wrapped(level, _WIDEST)]
        self.width = max(len(row) for row in self.rows) * _SLOT + 2 * _PAD
        self.heights = [max(height_of(tags[t.code]) for t in row) for row in self.rows]
        self.height = sum(self.heights) + (len(self.rows) - 1) * _BETWEEN + 2 * _PAD
        self.failed = sum(t.failed for t in things)
        self.held = sum(t.held for t in things)

    def _levels(self) -> list[list[Relation]]:
        """Parts that another part went into stand in a row of their own, below it."""
        depth: dict[str, int] = {}
        row_of = {t.code: _row(t) for t in self.things}
        for one in self.things:
            depth[one.code] = self._depth(one.code, row_of, depth)
        levels: dict[int, list[Relation]] = defaultdict(list)
        for one in self.things:
            levels[depth[one.code]].append(one)
        placed: dict[str, float] = {}
        ordered = []
        for number in sorted(levels):
            row = sorted(levels[number], key=lambda t: (self._middle(t.code, placed), t.code))
            placed |= {t.code: place - (len(row) - 1) / 2 for place, t in enumerate(row)}
            ordered.append(row)
        return ordered

    def _depth(self, one: str, level: Mapping[str, int], known: dict[str, int]) -> int:
        if one not in known:
            same = [self._depth(s, level, known) for s in self.inside[one] if level[s] == level[one]]
            known[one] = max([level[one], *(d + 1 for d in same)])
        return known[one]

    def _middle(self, one: str, placed: Mapping[str, float]) -> float:
        over = [placed[s] for s in self.inside[one] if s in placed]
        return sum(over) / len(over) if over else 0.0

    def draw(self, x: float, y: float) -> list[str]:
        boxes, lines = [], []
        places: dict[str, tuple[float, float, float]] = {}
        top = y + _PAD
        for row, height in zip(self.rows, self.heights, strict=True):
            for place, one in enumerate(row):
                middle = x + self.width / 2 + (place - (len(row) - 1) / 2) * _SLOT
                places[one.code] = (middle, top, height)
                boxes += box(one, middle, top, tags=self.tags[one.code], high=height)
            top += height + _BETWEEN
        for one in self.things:
            for source in self.inside[one.code]:
                (x1, y1, high), (x2, y2, _) = places[source], places[one.code]
                lines.append(line((x1, y1 + high), (x2, y2), strong=one.failed))
        return [frame(x, y, self.width, self.height), *lines, *boxes]


def _wrapped(level: Sequence[Relation], across: int = _ACROSS) -> list[Sequence[Relation]]:
    return [level[start : start + across] for start in range(0, len(level), across)]


def _room(pages: list[_Page], height: float) -> _Page:
    """The page that has room for so much more, a new one if the last has not."""
    if pages[-1].body and pages[-1].y + height > PAGE:
        pages.append(_Page())
    return pages[-1]


def _sources(
    pages: list[_Page],
    hubs: Sequence[Relation],
    letters: Mapping[str, str],
    tags: Mapping[str, Sequence[str]],
    into: Links,
) -> None:
    """What has a letter, in rows: a lot at the left, its containers beside it."""
    page = pages[-1]
    page.body.append(text(0, 9, "What feeds several has a letter; what came of it bears that letter", SOFT_INK))
    page.y = 16
    for row in _source_rows(hubs, into):
        lot = row[0].kind == Kind.LOT
        said = {}
        for one in row:
            came = [tag for tag in tags[one.code] if not (lot and tag == letters[row[0].code])]
            said[one.code] = [letters[one.code], *(["of", *came] if came else [])]
        high = max(map(height_of, said.values()))
        page = _room(pages, high + _GAP)
        for place, one in enumerate(row):
            x = _SLOT * place + BOX / 2
            page.body += box(one, x, page.y, tags=said[one.code], high=high)
            if lot and place:
                middle = page.y + high / 2
                page.body.append(line((x - _SLOT + BOX / 2, middle), (x - BOX / 2, middle), strong=False))
        page.y += high + _GAP
    pages[-1].y += _GAP


def _source_rows(hubs: Sequence[Relation], into: Links) -> list[list[Relation]]:
    """A lot begins a row, and its containers follow; other sources stand with their like."""
    rows: list[list[Relation]] = []
    for one in hubs:
        first = rows[-1][0] if rows and len(rows[-1]) < _ACROSS else None
        follows = first is not None and (first.code in into[one.code] or first.kind == one.kind != Kind.LOT)
        if follows:
            rows[-1].append(one)
        else:
            rows.append([one])
    return rows


def _shelves(pages: list[_Page], families: Sequence[_Family]) -> None:
    """Families side by side as they fit, on shelves from the top to the foot of a page."""
    shelf: list[_Family] = []

    def put() -> None:
        if not shelf:
            return
        high = max(f.height for f in shelf)
        page, x = _room(pages, high), 0.0
        for one in shelf:
            page.body += one.draw(x, page.y)
            x += one.width + _GAP
        page.y += high + _GAP
        shelf.clear()

    for family in families:
        if shelf and sum(f.width + _GAP for f in shelf) + family.width > WIDTH:
            put()
        shelf.append(family)
    put()


def _alone(pages: list[_Page], group: Sequence[Relation], heading: str, tags: Mapping[str, Sequence[str]]) -> None:
    """Boxes without lines, under a heading that says how many they are; what failed comes first."""
    high = max(height_of(tags.get(t.code, ())) for t in group)
    page = _room(pages, 14 + high)
    page.body.append(text(0, page.y + 9, heading, SOFT_INK))
    page.y += 14
    for row in _wrapped(sorted(group, key=lambda t: (not t.failed, not t.held, t.code))):
        page = _room(pages, high + _GAP)
        for place, one in enumerate(row):
            page.body += box(one, _SLOT * place + BOX / 2, page.y, tags=tags.get(one.code, ()), high=high)
        page.y += high + _GAP - 1
    pages[-1].y += _GAP
