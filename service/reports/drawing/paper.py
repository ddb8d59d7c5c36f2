"""The two reports on paper: HTML by templates, then PDF/A-3a with the document attached.

It draws what it is given, and fetches nothing but the house's font and the pictures of this very report. WeasyPrint is
loaded when first used.
"""

import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cache, lru_cache
from threading import Lock
from typing import Any

from markupsafe import Markup

from labels import qr
from labels.fonts import BLACK, BOLD, FAMILY, REGULAR, SEMIBOLD, font_configuration, font_file
from labels.typesetting import set_alone
from service.reports import wording
from service.reports.conformity import Conformity
from service.reports.document import canonical, fingerprint
from service.reports.drawing.fontless import noted
from service.reports.drawing.pictures import Pictures, Stored
from service.reports.finding.failed_cures import outcome
from service.reports.finding.standing_out import Rank
from service.reports.investigation import Investigation
from service.reports.record import PartRecord

_WEIGHTS = (REGULAR, SEMIBOLD, BOLD, BLACK)
_FONT_SCHEME, PICTURE_SCHEME = "report-font:", "report-picture:"
_ENGINE = Lock()
# Hebrew, Arabic and the other scripts of these blocks; words between which only spaces or hyphens stand are one run.
_LETTER = "[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc\U00010800-\U00010fff\U0001e800-\U0001efff]"
_RIGHT_TO_LEFT = re.compile(f"{_LETTER}+(?:[ \u00a0'.-]+{_LETTER}+)*")
_FILTERS = (
    "code", "number", "signed", "grams", "metres", "day", "local_day", "local_time", "span", "in_words", "p_value",
    "plural", "listed", "capital", "p_number", "runs", "fact", "figure", "one_of", "shortened", "odds",
)  # fmt: skip


Report = Investigation | PartRecord | Conformity


@dataclass(frozen=True, slots=True)
class Stamp:
    """What a paper says of being issued: its number, which issue of it, and by whom. Without one it is a live view."""

    document: str
    issue: int
    by: str


def investigation_pdf(
    report: Investigation, *, origin: str, at: datetime, head: str | None = None, stamp: Stamp | None = None
) -> bytes:
    """The shop's own report on a part, printed at ``at``, its JSON attached; ``head`` is then the journal's."""
    return _pdf("investigation.html", report, origin=origin, at=at, head=head, stamp=stamp)


def record_pdf(
    record: PartRecord, *, origin: str, at: datetime, head: str | None = None, stamp: Stamp | None = None
) -> bytes:
    """The customer's record of a part, printed at ``at``, its JSON attached; ``head`` is then the journal's."""
    return _pdf("record.html", record, origin=origin, at=at, head=head, stamp=stamp)


def conformity_pdf(
    declared: Conformity, *, origin: str, at: datetime, head: str | None = None, stamp: Stamp | None = None
) -> bytes:
    """The declaration that a part conforms, its JSON attached; ``head`` is then the journal's."""
    return _pdf("conformity.html", declared, origin=origin, at=at, head=head, stamp=stamp)


def report_html(
    template: str,
    report: Report,
    *,
    origin: str,
    at: datetime,
    head: str | None = None,
    stamp: Stamp | None = None,
    content: bytes | None = None,
) -> tuple[str, Stored]:
    """A report as HTML, and the pictures that its addresses stand for; ``content`` is its JSON, if it is at hand."""
    stored: Stored = {}
    part = report.account if isinstance(report, Investigation) else report
    html = (
        templates()
        .get_template(template)
        .render(
            report=report,
            part=part,
            **drawing_tools(),
            pictures=Pictures(stored, PICTURE_SCHEME),
            symbol=_symbol(origin, report.code),
            marks=_signs(report) if not isinstance(report, Conformity) else None,
            origin=origin,
            zone=report.zone,
            shop=report.shop,
            printed=at,
            sha256=fingerprint(content or canonical(report)),
            file_name=file_name(report),
            head=head,
            stamp=stamp,
        )
    )
    return html, stored


def _signs(report: Investigation | PartRecord) -> Callable[[str], str]:
    """The signs behind a code: an entry on it came late, was corrected, or what was out of limit is permitted."""
    part = report.account if isinstance(report, Investigation) else report
    late = {item for entry in part.late for item in entry.items}
    corrected = {item for entry in part.corrected for item in entry.items}
    permitted = {item for f in report.standing_out if f.rank == Rank.PERMITTED for item in f.items[:1]}
    kinds = (("L", late), ("C", corrected), ("P", permitted))
    return lambda item: "".join(letter for letter, items in kinds if item in items)


def file_name(report: Report) -> str:
    """What the attached document is called."""
    return f"{report.kind.split()[0]}-{report.code}.json"


def _symbol(origin: str, code: str) -> str:
    """The address of the part's label, which opens no more than what stands on it."""
    made = qr.symbol(qr.address(origin, code))
    side = made.modules + 2 * qr.QUIET_MODULES
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}">'
        f'<path transform="translate({qr.QUIET_MODULES} {qr.QUIET_MODULES})" d="{qr.path(made)}"/></svg>'
    )


def _pdf(template: str, report: Report, *, origin: str, at: datetime, head: str | None, stamp: Stamp | None) -> bytes:
    from weasyprint import Attachment

    content = canonical(report)
    html, stored = report_html(template, report, origin=origin, at=at, head=head, stamp=stamp, content=content)
    attached = Attachment(
        string=content.decode(),
        name=file_name(report),
        description=f"The {report.kind} of {report.code} as canonical JSON (RFC 8785)",
        created=at,
        modified=at,
        relationship="Data",
    )
    return pages(html, stored, attachments=[attached], pdf_variant="pdf/a-3a")


def pages(html: str, stored: Stored, **options: Any) -> bytes:
    """HTML as a PDF, with the pictures that its addresses stand for and WeasyPrint's options."""
    from weasyprint import HTML

    def draw() -> bytes:
        fonts, fetcher = _engine(os.getpid())
        page = HTML(string=noted(html, stored.values()), url_fetcher=fetcher(stored))
        pdf: bytes = page.write_pdf(font_config=fonts, **options)
        return pdf

    return set_alone(_ENGINE, draw)


@lru_cache(maxsize=1)
def _engine(process: int) -> tuple[Any, Callable[[Stored], Any]]:
    """Fonts and fetcher, once a process: a child must not share the parent's font folder."""
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class OwnOnly(URLFetcher):
        """Hands out the font and the pictures of one report, and refuses every other address."""

        def __init__(self, stored: Stored) -> None:
            super().__init__(allowed_protocols=())
            self.stored = stored

        def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
            for weight in _WEIGHTS:
                if url == f"{_FONT_SCHEME}{weight}":
                    return URLFetcherResponse(url, font_file(weight).read_bytes(), {"Content-Type": "font/ttf"})
            if url in self.stored:
                return URLFetcherResponse(url, self.stored[url].encode(), {"Content-Type": "image/svg+xml"})
            raise ValueError(f"A report fetches nothing from outside, not {url[:80]}.")

    return font_configuration(), OwnOnly


def drawing_tools() -> dict[str, Any]:
    """What every template needs for the house's font."""
    return {"family": FAMILY, "weights": _WEIGHTS, "font_scheme": _FONT_SCHEME}


def _isolated(value: Any) -> Any:
    """Words written from right to left stay within themselves: a date or limit after them keeps its own direction.

    The marks are those of the Unicode bidirectional algorithm (UAX 9: first strong isolate, and its end).
    """
    if isinstance(value, str) and not value.isascii():
        marked = _RIGHT_TO_LEFT.sub("\u2068\\g<0>\u2069", value)
        return Markup(marked) if isinstance(value, Markup) else marked
    return value


@cache
def templates() -> Any:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("service.reports"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_isolated,
    )
    for name in _FILTERS:
        environment.filters[name] = getattr(wording, name)
    environment.filters["outcome"] = outcome
    return environment
