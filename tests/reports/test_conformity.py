"""The certificate of conformity: what it declares, with what exceptions, and of which part nothing can be declared."""

import re
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pypdfium2
import pytest

from schemas.words import Disposition, PartState
from service.operations.door.refusals import OnHold, WrongState
from service.operations.parts.findings import NonconformanceView
from service.reports.conformity import conformity_of
from service.reports.drawing.paper import Stamp, conformity_pdf
from service.reports.record import PartRecord, record_of
from tests.reports import accounts
from tests.reports.accounts import DAY, PART

RELEASED = DAY + timedelta(days=4)


def record(**more: Any) -> PartRecord:
    return record_of(accounts.account(**{"released_at": RELEASED, "released_by": "Quinn Berg", **more}), {})


def drawn(part: PartRecord) -> str:
    stamp = Stamp(f"CC-{PART}", 1, "Quinn Berg")
    pdf = conformity_pdf(
        conformity_of(part), origin="https://potmark.heron-yard.example", at=RELEASED, head="12 0011 2233", stamp=stamp
    )
    pages = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf)]
    return re.sub(r"\s+", " ", " ".join(pages))


def test_it_declares_of_what_to_which_design_by_whom_and_without_exception() -> None:
    text = drawn(record())
    for said in (
        f"No. CC-{PART}, issue 1", "Follows entry 12 0011 2233 of the journal", "issued by Heron Yard",
        "made, cured and inspected as design HY-114 revision C asks", "by Quinn Berg. It conforms to that design.",
        "None: no deviation permit",
    ):  # fmt: skip
        assert said in text
    assert "with the exceptions below" not in text


def test_what_was_found_and_decided_is_an_exception_and_what_is_not_decided_is_left_to_the_release() -> None:
    found = NonconformanceView(3, PART, "dry patch at the root", True, False, DAY, "Lin", (), "use as is",
                               "away from the bolt", RELEASED, "Quinn Berg")  # fmt: skip
    text = drawn(record(nonconformances=(found, replace(found, id=4, found="scratch", disposition=None))))
    assert "It conforms to that design, with the exceptions below." in text
    assert "Nonconformance 3, decided" in text
    assert "dry patch at the root: use as is away from the bolt" in text
    assert "scratch" not in text


@pytest.mark.parametrize("decided", [None, Disposition.SCRAP, Disposition.REPAIR])
def test_what_was_rejected_since_its_release_is_not_declared_though_its_hold_was_lifted(
    decided: Disposition | None,
) -> None:
    found = NonconformanceView(3, PART, "dull", False, False, RELEASED + timedelta(days=1), "Lin", (), decided,
                               None, None, None)  # fmt: skip
    with pytest.raises(WrongState, match="opened after its release and"):
        conformity_of(record(nonconformances=(found,)))
    as_it_is = replace(found, disposition=Disposition.USE_AS_IS)
    assert conformity_of(record(nonconformances=(as_it_is,))).nonconformances == (as_it_is,)


@pytest.mark.parametrize("state", [PartState.SHIPPED, PartState.FITTED])
def test_what_left_the_shop_as_released_keeps_its_declaration(state: PartState) -> None:
    assert conformity_of(record(state=state)).released_by == "Quinn Berg"


@pytest.mark.parametrize(
    ("more", "reason"),
    [
        ({"released_at": None, "released_by": None}, WrongState),
        ({"on_hold": ("cloudy resin",)}, OnHold),
        ({"state": PartState.SCRAPPED}, WrongState),
    ],
)
def test_of_a_part_that_is_not_released_on_hold_or_scrapped_nothing_is_declared(
    more: Any, reason: type[Exception]
) -> None:
    with pytest.raises(reason, match="nobody can declare that it conforms") as refused:
        conformity_of(record(**more))
    assert "part record can be issued at any time" in str(refused.value.way_out)  # type: ignore[attr-defined]
