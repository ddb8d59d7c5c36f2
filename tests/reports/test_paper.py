"""The reports on paper: what stands out first, PDF/A-3 with the document attached, tables that page, no network."""

import contextlib
import hashlib
import json
import re
import zlib
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pypdfium2
import pytest

from labels.codes import grouped, make
from schemas.words import DateBasis
from service.operations.parts.findings import NonconformanceView
from service.operations.parts.plies import DesignPly
from service.operations.parts.view import InspectionView, StepView
from service.reports.document import canonical
from service.reports.drawing.paper import investigation_pdf, record_pdf, report_html
from service.reports.finding.comparing import Sister
from service.reports.finding.standing_out import stand_out
from service.reports.finding.suspects import find_suspects
from service.reports.investigation import CAUTION, Exposed, Investigation, Shared
from service.reports.reading.account import CorrectedEntry, LateEntry, Worker
from service.reports.record import record_of
from tests.reports import accounts
from tests.reports.accounts import DAY, HARDENER, PART
from tests.reports.test_suspects import CAN, LATE, LOT, OLD_CAN, YARD

ORIGIN = "https://potmark.heron-yard.example"
PRINTED = DAY + timedelta(days=22)


def investigation(**more: Any) -> Investigation:
    """A report on a part whose hardener can was open too long, with its sisters."""
    aged = replace(OLD_CAN, code=HARDENER)
    suspects = find_suspects(LATE[0], outcomes=YARD, factors=[CAN, LOT], aged=[aged])
    found = NonconformanceView(3, PART, "soft behind the gel coat", True, True, PRINTED, "Quinn", (), None, None, None,
                               None)  # fmt: skip
    ply: dict[str, Any] = {"material": 5, "material_name": "Glass twill 280", "areal_weight_g_m2": 280.0,
                           "area_m2": 0.5, "length_mm": None, "zone": None}  # fmt: skip
    base = accounts.account()
    design = replace(
        base.design, plies=tuple(DesignPly(number=n, angle_deg=a, face=None, **ply) for n, a in enumerate((0, 45), 1))
    )
    known: dict[str, Any] = {
        "design": design,
        "pots": (accounts.pot(1180), accounts.pot(1183, deviation_pct=-2.8)),
        "materials": (accounts.open_too_long(),),
        "nonconformances": (found,),
        "people": (Worker("Lin Aber", ("weighed", "laid plies")),),
    }
    account = accounts.account(**{**known, **more})
    codes = accounts.codes("P", 100, 59)
    sisters = tuple(
        Exposed(
            Sister(one, "Body", "HY-114", "shipped", None, "Cargo Trikes", DAY, "failed"),
            (CAN.name,),
            f"{180 + number} d open",
            number % 3 == 0,
        )
        for number, one in enumerate(codes)
    )
    shared = Shared("hardener can, after day 180", HARDENER, "C", 7, 1, 2, 4, 0, 6, True, ())
    return Investigation(
        kind="investigation report",
        at=PRINTED,
        account=account,
        standing_out=stand_out(account, suspects),
        suspects=suspects,
        compared_newest_only=False,
        shared=(shared,),
        only_here=(make("K", 12),),
        sisters=sisters,
        pots_closed=(),
        caution=CAUTION,
    )


def _pages(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    return [page.get_textpage().get_text_range() for page in document]


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def test_the_first_page_opens_with_what_stands_out() -> None:
    first = _plain(_pages(investigation_pdf(investigation(), origin=ORIGIN, at=PRINTED))[0])
    assert first.index("Investigation report, the shop's own") < first.index("Two things stand out")
    numbers = (
        "Its hardener can had been open 215 days; the limit is 180. Of 7 parts made from it after day 180, 6 are soft"
    )
    assert numbers in first
    assert first.index(numbers) < first.index("The second wet-out pot ran 2.8 % under") < first.index("Pots")
    assert "soft behind the gel coat" in first
    assert f"{grouped(PART)} · Heron Yard · live view, not issued · printed 25 Nov 2026" in first


@pytest.mark.parametrize(
    ("p_trend", "said"),
    [
        (0.067, "goes with its age cannot be told from chance (Kendall's tau −0.13, p = 0.067)"),
        (0.021, "falls with its age ("),
    ],
)
def test_a_trend_is_a_fact_only_where_chance_seldom_brings_it(p_trend: float, said: str) -> None:
    """It fell with the age by p = 0.067 on the first page, and the medians were of other parts than in the table."""
    report = investigation()
    split = replace(
        report.suspects.splits[0],
        measured="hardness",
        tau=-0.13,
        p_trend=p_trend,
        median_failed=208.5,
        median_good=151.0,
    )
    told = replace(report, suspects=replace(report.suspects, splits=(split,)))
    text = _plain(" ".join(_pages(investigation_pdf(told, origin=ORIGIN, at=PRINTED))))
    assert said in text
    assert "Of the parts made from it, the median age is 208.5 days for the failed ones and 151 for the good" in text


def test_the_date_that_is_estimated_is_named_and_whether_it_counts() -> None:
    materials = (replace(accounts.open_too_long(), date_basis=DateBasis.ESTIMATED),)
    found = [f.sentence for f in stand_out(accounts.account(materials=materials)) if f.kind == "date"]
    assert found == [
        "The last day of the lot of its hardener can is estimated; it is not what its days are counted to."
    ]


def test_the_document_is_attached_and_its_fingerprint_is_printed() -> None:
    """What a customer does: take the attachment out, hash it, compare with the figure on the paper."""
    record = record_of(accounts.account(), {})
    pdf = record_pdf(record, origin=ORIGIN, at=PRINTED)
    document = pypdfium2.PdfDocument(pdf)
    assert document.count_attachments() == 1
    attached = document.get_attachment(0)
    data = bytes(attached.get_data())
    assert (attached.get_name(), data) == (f"part-{PART}.json", canonical(record))
    assert json.loads(data)["code"] == PART
    assert hashlib.sha256(data).hexdigest() in re.sub(r"\s+", "", "".join(_pages(pdf)))


def _whole_inside(pdf: bytes) -> bytes:
    """The file with its compressed streams laid open."""
    opened = [pdf]
    for match in re.finditer(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL):
        with contextlib.suppress(zlib.error):
            opened.append(zlib.decompress(match[1]))
    return b"\n".join(opened)


def test_it_is_a_tagged_archive_file_that_says_how_the_attachment_belongs_to_it() -> None:
    """ISO 19005-3: part 3, conformance A, an associated file with its relationship (clauses from memory)."""
    record = record_of(accounts.account(), {})
    html, stored = report_html("record.html", record, origin=ORIGIN, at=PRINTED)
    pdf = record_pdf(record, origin=ORIGIN, at=PRINTED)
    inside = _whole_inside(pdf)
    assert re.search(rb"pdfaid:part[>=]\"?3", inside)
    assert re.search(rb"pdfaid:conformance[>=]\"?A", inside)
    assert b"/AFRelationship /Data" in inside
    assert b"/OutputIntents" in inside
    assert pypdfium2.PdfDocument(pdf).is_tagged()
    assert stored
    assert all(re.search(rf'src="{re.escape(address)}" alt="[^"]+"', html) for address in stored)


def test_every_page_says_which_part_it_belongs_to_and_how_many_there_are() -> None:
    pages = _pages(investigation_pdf(investigation(), origin=ORIGIN, at=PRINTED))
    assert len(pages) > 2
    for number, page in enumerate(pages, 1):
        assert f"{number} of {len(pages)}" in page
        assert grouped(PART) in page


def test_long_tables_repeat_their_heads_and_lose_no_row() -> None:
    pots = tuple(accounts.pot(code=one) for one in accounts.codes("M", 1200, 40))
    report = investigation(pots=pots)
    pages = [_plain(p) for p in _pages(investigation_pdf(report, origin=ORIGIN, at=PRINTED))]
    whole = " ".join(pages)
    assert all(grouped(p.code) in whole for p in pots)
    assert all(grouped(e.sister.code) in whole for e in report.sisters)
    assert sum("where its tolerance ends" in page for page in pages) > 1
    assert sum("scale read" in page for page in pages) > 2


def test_long_and_odd_texts_neither_break_the_page_nor_the_markup() -> None:
    long = "W" * 300 + " <b>not bold</b> & “quoted” " + "überlang " * 60
    account = {
        "steps": (StepView("note", {"text": long}, None, DAY, "Lin & Mo <script>"),),
        "inspections": (InspectionView(1, False, long, ({"name": "thickness", "value": 3.1, "unit": "mm", "low": 2.9,
                                       "high": None, "within": True},), DAY, "Lin"),),
        "on_hold": (long,),
        "corrected": (CorrectedEntry("trimming", (PART,), DAY, "Lin", DAY, "Ida", "incorrect data", long,
                                     {"mass_g": 960}, {"mass_g": 690}),),
        "late": (LateEntry("cup check", (), DAY, DAY + timedelta(hours=5), "Lin"),),
    }  # fmt: skip
    pdf = investigation_pdf(investigation(**account), origin=ORIGIN, at=PRINTED)
    whole = _plain(" ".join(_pages(pdf)))
    assert "<b>not bold</b> & “quoted”" in whole
    assert "Lin & Mo <script>" in whole
    assert "mass 960 g → mass 690 g" in whole
    for page in pypdfium2.PdfDocument(pdf):
        text, right = page.get_textpage(), page.get_width() - 15 / 25.4 * 72
        assert all(text.get_charbox(n)[2] <= right for n in range(text.count_chars())), "nothing runs off the page"


def test_signs_mark_what_was_typed_late_estimated_corrected_and_permitted() -> None:
    """AUD-3: a print shows what was changed since it was first entered."""
    off = accounts.pot(1183, deviation_pct=-2.8)
    late = replace(off.weighings[0], typed=True, late=True)
    back = replace(off.weighings[1], taken_back=True)
    guessed = replace(off.applied[0], estimated=True)
    account = accounts.account(
        pots=(replace(off, weighings=(late, back), applied=(guessed,)),),
        marks=(accounts.mark(off.code, "ratio-outside", permit=4),),
        permits=(accounts.concession(4, item=off.code),),
        corrected=(CorrectedEntry("stirring", (off.code,), DAY, "Lin", DAY, "Ida", "incorrect data", None, {}, {}),),
    )
    html, _ = report_html("record.html", record_of(account, {}), origin=ORIGIN, at=PRINTED)
    assert f'{grouped(off.code)}<sup class="sign">CP</sup>' in html
    assert '<sup class="sign">TL</sup>' in html
    assert '<sup class="sign">E</sup>' in html
    assert '<tr class="gone">' in html
    assert "<b>T</b> typed" in html


def test_what_a_model_says_of_the_cure_stands_under_its_plot_only_where_there_are_constants() -> None:
    said = "Alder 10, revision 2, by probe tip: 58% cured. A figure from a model never replaces a stated cure."
    html, _ = report_html(
        "record.html",
        record_of(accounts.account(cures=(accounts.cure(model=(said,)),)), {}),
        origin=ORIGIN,
        at=PRINTED,
    )
    assert f'<p class="note">{said}</p>' in html
    without, _ = report_html(
        "record.html", record_of(accounts.account(cures=(accounts.cure(),)), {}), origin=ORIGIN, at=PRINTED
    )
    assert "from a model" not in without


def test_the_record_says_nothing_of_sisters_and_defers_to_approved_data() -> None:
    text = _plain(" ".join(_pages(record_pdf(record_of(accounts.account(), {}), origin=ORIGIN, at=PRINTED))))
    assert "does not replace the data sheet, approved data or licensed people where a part carries a life" in text
    assert not re.search("suspect|sister|shares", text, re.IGNORECASE)
    assert "Released 6 Nov 2026 by Ida" in text


def test_the_paper_of_one_day_is_always_the_same_and_asks_no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    import socket

    def refuse(*args: Any, **kwargs: Any) -> Any:
        raise AssertionError("a report opened a socket")

    monkeypatch.setattr(socket, "socket", refuse)
    record = record_of(accounts.account(name="x <img src='http://192.0.2.1/a.png'>"), {})
    one, two = (record_pdf(record, origin=ORIGIN, at=PRINTED) for _ in range(2))
    assert one == two


def test_the_symbol_holds_the_address_of_the_label_and_nothing_else() -> None:
    import zxingcpp
    from PIL import Image

    page = pypdfium2.PdfDocument(record_pdf(record_of(accounts.account(), {}), origin=ORIGIN, at=PRINTED))[0]
    image: Image.Image = page.render(scale=4).to_pil()
    assert [c.text for c in zxingcpp.read_barcodes(image)] == [f"{ORIGIN.upper()}/I/{PART}"]


def test_days_are_those_of_the_shop() -> None:
    """23:30 UTC on 3 November is 4 November in Copenhagen."""
    account = accounts.account(started_at=DAY.replace(hour=23, minute=30))
    html, _ = report_html("record.html", record_of(account, {}), origin=ORIGIN, at=PRINTED)
    assert "laid 4 Nov 2026" in html
    assert date(2026, 11, 3) == account.materials[0].used_on
