"""What an order system may read: parts, stock and what can be built, one part at a time; never a part's sisters."""

import json
import re
from collections.abc import Iterator
from typing import Any

import pytest

from service.database import connected
from service.records.items import Item, Movement
from tests.budgets.job import listening, whole_job
from tests.conftest import Api

# Every route that a system's key opens for reading, and what an order system needs of it. What is not here is closed.
_READS = {
    "read_me": "what its key may do",
    "read_site": "time zone and settings, to say times as the shop does",
    "list_people": "whom it acts for",
    "read_person": "whom it acts for",
    "list_parts": "its orders: how each part stands, one a row",
    "read_part": "one part: what went into it and what stands against it",
    "list_part_flags": "the same, where more stands against it than the newest",
    "read_part_record": "the paper for that part's customer, which names no other part",
    "print_part_record": "the paper for that part's customer",
    "read_issue": "the record or certificate that was issued for that part's customer",
    "list_entries": "what has changed since it last looked, part by part",
    "list_changes": "which parts and lots to read again",
    "verify_chain": "that the entries it follows are those which were written",
    "list_orders": "its orders, by its own reference",
    "read_order": "how far each line of it is",
    "list_order_parts": "the codes of its parts, one a row",
    "list_reservations": "what it has reserved, and until when",
    "read_reservation": "what is kept for its order, and what of it was taken",
    "list_expected_deliveries": "when what is missing comes",
    "read_expected_delivery": "when what is missing comes",
    "list_customers": "whom it orders for",
    "read_customer": "whom it orders for",
    "list_references": "what it calls a thing, and what a thing is that it calls so",
    "read_availability": "what can be built of what is fit and free",
    "list_lots": "what there is, until when",
    "read_lot": "what there is, until when",
    "list_containers": "how much of it is where",
    "read_container": "how much of it is where",
    "list_materials": "what may be ordered, and its facts",
    "read_material": "what may be ordered, and its facts",
    "list_suppliers": "from whom",
    "list_places": "where its thermometers hang",
    "read_place": "where its thermometers hang",
    "list_designs": "what can be ordered",
    "read_design": "what it takes to build one",
    "read_cutting": "the cloth it takes",
    "read_laminate": "its mass and thickness",
    "list_systems": "which resin for which design",
    "read_system": "which resin for which design",
    "list_schedules": "how long its cure is",
    "read_schedule": "how long its cure is",
    "list_loggers": "how a logger's file is to be written",
    "read_logger": "how a logger's file is to be written",
    "list_scales": "which scale there is and when its check is due",
    "read_scale": "which scale there is and when its check is due",
    "list_checks": "which scale there is and when its check is due",
    "list_readings": "what it has sent, for the program beside it",
    "list_calculations": "formulas, which know nothing of the account",
    "print_form": "an empty form",
    "list_stock_warnings": "what is short and what is soon past its date",
    "list_webhooks": "whether it is told of what happens",
    "read_webhook": "whether it is told of what happens",
    "list_prices": "with the scope costs: what arrivals cost",
    "list_hourly_rates": "with the scope costs: what an hour of work costs",
    "read_part_cost": "with the scope costs: what its part cost",
    "part_cost_table": "with the scope costs: the same as a table",
    "order_cost_table": "with the scope costs: the same as a table",
    "month_cost_table": "with the scope costs: the same as a table",
    "read_month_cost": "with the scope costs: what a month cost",
    "read_order_cost": "with the scope costs: what its order cost",
    "list_deliveries": "what it was told and did not take",
}
# Open to everyone who holds the label.
_OPEN = {"short_address", "read_certificate"}
# Its rows are parts, or acts on one part; in no row may a part stand beside another, or beside what parts share.
_LISTS_OF_PARTS = {"list_parts", "list_entries", "list_changes", "list_order_parts", "list_references"}
_CODE = re.compile(r"[LCKMPTSRA][0-9]{5,12}[0-9A-Z]")
_CONVERTER = re.compile(r"<(code|number)(?:\(([A-Z,]+)\))?:(\w+)>|<(\w+)>")
_MOST_NUMBERS = 8
_MOST_CODES = 6


@pytest.fixture
def workshop(api: Api) -> Api:
    """A shop with a whole job in it, in which parts share a pot, a kit's roll, a cure, a mould and their lots."""
    whole_job(listening(api))
    return api


def _codes() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    with connected():
        for code in (row.code for row in Item.select(Item.code).order_by(Item.id)):
            found.setdefault(code[0], []).append(code)
    return {letter: every if letter == "P" else every[:_MOST_CODES] for letter, every in found.items()}


def _kin() -> dict[str, set[str]]:
    """The parts that a part was fitted into or was made of: what is in it, not beside it."""
    found: dict[str, set[str]] = {}
    with connected():
        rows = Movement.select().where(Movement.source.is_null(False) & Movement.target.is_null(False))
        for row in rows:
            ends = {row.source.code, row.target.code}
            if len(ends) == 2 and all(code[0] == "P" for code in ends):
                for code in ends:
                    found.setdefault(code, set()).update(ends)
    return found


def _addresses(rule: str, codes: dict[str, list[str]]) -> Iterator[tuple[str, str | None]]:
    """Every address of a rule that names something that is there, and the code in it."""
    found = _CONVERTER.search(rule)
    if found is None:
        yield rule, None
        return
    kind, letters, _, text = found.groups()
    values: list[Any] = (
        list(range(1, _MOST_NUMBERS if found.start() == rule.index("<") else 3)) if kind == "number" else []
    )
    if kind == "code":
        values = [code for letter in (letters.split(",") if letters else codes) for code in codes.get(letter, ())]
    for value in values if text is None else ():
        for address, code in _addresses(rule.replace(found[0], str(value), 1), codes):
            yield address, str(value) if kind == "code" else code


def _named(value: Any) -> set[str]:
    return set(_CODE.findall(value if isinstance(value, str) else json.dumps(value)))


def _asked(api: Api, codes: dict[str, list[str]]) -> Iterator[tuple[str, str, str | None]]:
    """Every reading route with every code and number there is, and the lists asked for each code too."""
    for rule in api.client.application.url_map.iter_rules():
        name = rule.endpoint.rpartition(".")[2]
        if "GET" in (rule.methods or ()) and rule.rule.startswith(("/v1/", "/I/")) and "<path:" not in rule.rule:
            every = list(_addresses(rule.rule, codes))
            # Of a paper one is enough: it is drawn from what its JSON says.
            for address, code in every[:1] if rule.rule.endswith(".pdf") else every:
                yield name, address, code
            if name == "list_entries":
                for code in (code for every in codes.values() for code in every):
                    yield name, f"{rule.rule}?item={code}", code


def test_no_answer_to_a_system_names_a_part_beside_another_or_what_they_share(workshop: Api) -> None:
    codes, kin = _codes(), _kin()
    told, opened, refused = [], set(), set()
    to_ask = list(_asked(workshop, codes))
    for name, address, code in to_ask:  # it grows by the pages that follow
        answer = workshop.call("GET", address, who="integrator")
        if answer.status_code == 403:
            refused.add(name)
        if answer.status_code != 200:
            assert answer.status_code in (303, 403, 404, 409, 422), (address, answer.get_data(as_text=True))
            assert {c for c in _named(answer.get_data(as_text=True)) if c[0] == "P"} <= {code}, address
            continue
        opened.add(name)
        if (link := re.fullmatch(r'<(.+)>; rel="next"', answer.headers.get("Link", ""))) is not None:
            to_ask.append((name, link[1], code))
        rows = answer.get_json(silent=True)
        if rows is None:
            rows = [answer.get_data().decode("latin-1")]
        for row in rows if isinstance(rows, list) else [rows]:
            found = _named(row)
            parts = {c for c in found if c[0] == "P"}
            if name == "list_order_parts":
                # In whose place it was planned, in the same line: that was scrapped, and shares nothing with it.
                parts -= {row["replaces"]} - {row["code"]}
            own = {code, *kin.get(code or "", ())} if code is not None and code[0] == "P" else set()
            if parts - own and not (name in _LISTS_OF_PARTS and code is None and len(parts) == 1):
                told.append((address, parts - own))
            if name == "list_entries" and parts and len(found) > 1:
                told.append((address, found))
    assert told == []
    assert opened - _OPEN <= _READS.keys()
    asked_otherwise = {"read_availability", "print_form", "read_issue", "read_month_cost"}
    asked_otherwise |= {"part_cost_table", "order_cost_table", "month_cost_table"}
    assert _READS.keys() - opened <= asked_otherwise, "not asked by a code"
    assert refused >= {
        "read_item", "read_trace", "read_sharing", "list_mixes", "read_mix", "cups_left", "read_cure", "read_kit",
        "read_mould", "list_holds", "list_permissions", "list_nonconformances", "read_labels", "read_ratio_chart",
        "read_document", "check_release", "read_investigation", "list_chain", "list_heads",
        "list_issues",
    }  # fmt: skip


def test_a_system_follows_its_part_in_the_journal_and_asks_for_nothing_else_there(workshop: Api) -> None:
    part, pot = _codes()["P"][1], _codes()["M"][0]
    whole = workshop.get(f"/v1/journal?item={part}", who="lead")
    asked = workshop.get(f"/v1/journal?item={part}", who="integrator")
    assert [(e["seq"], e["operation"], e["hash"]) for e in asked] == [
        (e["seq"], e["operation"], e["hash"]) for e in whole
    ]
    assert any(len(e["items"]) > 1 for e in whole)
    assert {tuple(e["items"]) for e in asked} == {(part,)}
    problem = workshop.call("GET", f"/v1/journal?item={pot}", who="integrator")
    assert (problem.status_code, problem.get_json()["type"]) == (403, "/problems/not-allowed")
    assert "part" in problem.get_json()["way_out"]
