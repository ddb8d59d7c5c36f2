"""No answer carries a list that grows with the account; what is cut says how many there are and what lists all."""

import re
import typing
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import pytest

from schemas.answers import described_answers, meaning_of, members, without_none
from service.operations.ledger.tracing import MOST_FLAGS
from service.operations.pots.scales import MOST_AFFECTED
from service.records.items import Flag, Item
from tests import makers
from tests.budgets.bounds import BOUNDS, NEWEST
from tests.conftest import Api
from tests.forging import beside_any_act

if TYPE_CHECKING:
    from flask import Flask

pytestmark = pytest.mark.usefixtures("application")
_LISTS_ALL = re.compile(r"GET (/v1/[^ ;.]+)")
# Counted by nothing; their lists have them.
UNCOUNTED = {("LotView", "containers"), ("MouldView", "treatments"), ("RecallView", "papers")}
# Formulas answer what they were asked; nothing of it is in the account.
_ASKED = ("service.formulas.", "types")


def _has_many(hint: object) -> bool:
    bare, _ = without_none(hint)
    origin, inside = typing.get_origin(bare), typing.get_args(bare)
    if origin is tuple:
        return inside[1:] == (...,)
    return (origin or bare) in (list, tuple, dict, Sequence, Mapping)


def _lists_of_answers() -> Iterator[tuple[str, str]]:
    for cls in described_answers():
        if cls.__module__.startswith("service.") and not cls.__module__.startswith(_ASKED):
            yield from ((cls.__name__, m.name) for m in members(cls) if _has_many(m.hint))


def _said(bounds: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    return ((name, field) for name, fields in bounds.items() for field in fields.split())


def test_each_list_of_each_answer_has_one_bound() -> None:
    said = Counter(one for bounds in BOUNDS for one in _said(bounds))
    assert {one for one, times in said.items() if times > 1} == set()
    assert said.keys() == set(_lists_of_answers())


def test_a_list_that_is_cut_says_where_the_rest_is_and_there_is_such_a_list(application: "Flask") -> None:
    listings = {re.sub(r"<(?:[^:<>]+:)?(\w+)>", "{}", str(rule.rule)) for rule in application.url_map.iter_rules()}
    classes = {cls.__name__: cls for cls in described_answers()}
    for name, field in _said(NEWEST):
        meaning = meaning_of(classes[name])[1][field]
        assert re.search(r"\d+", meaning), (name, field)
        (path,) = set(_LISTS_ALL.findall(meaning))
        assert re.sub(r"\{\w+\}", "{}", path.partition("?")[0]) in listings, (name, path)
        if (name, field) not in UNCOUNTED:
            count = {"LookBack": "stopped", "EntryView": f"{'notes' if field == 'body' else field}_count"}
            assert count.get(name, f"{field}_count") in {m.name for m in members(classes[name])}


def test_a_failed_check_names_the_newest_pots_and_lists_all(api: Api) -> None:
    shop = makers.mixing(api)
    scale = f"/v1/scales/{shop.scale}"
    made = [shop.start(200)["code"] for _ in range(MOST_AFFECTED + 2)]
    for mix in made:
        shop.pour(mix, shop.resin_can, 100)
    check = {"weight": "W", "nominal_g": 500, "reading_g": 499.4, "limit_g": 0.2}
    failed = api.post(f"{scale}/checks", check)
    assert (failed["affected"], failed["affected_count"]) == (made[-MOST_AFFECTED:], len(made))
    listed = api.get(f"{scale}/affected?limit=200")
    assert [(f["item"], f["kind"]) for f in listed] == [(mix, "scale-check-failed") for mix in reversed(made)]
    assert api.get(scale)["affected_count"] == 0
    entry = api.get("/v1/journal?operation=check_scale", who="lead")[-1]
    assert (entry["items_count"], entry["body"]["notes"][-1]["affected"]) == (len(made) + 1, len(made))
    pages = api.get(f"/v1/journal/{entry['seq']}/items?limit=200")
    assert [item["code"] for item in pages] == entry["items"]
    assert {item["code"] for item in pages} == {shop.scale, *made}
    api.refused("/v1/journal/99999/corrections", {"declaration": "did not occur"}, "unknown", status=404, who="lead")
    assert api.call("GET", "/v1/journal/99999/items").status_code == 404
    assert api.call("GET", f"/v1/journal/{entry['seq']}/items", who="integrator").status_code == 403


def test_a_part_names_its_newest_flags_and_lists_all_that_it_is_made_of(api: Api) -> None:
    shop = makers.mixing(api)
    part, mix = makers.started_part(api), shop.mixed(200)["code"]
    shop.apply(mix, (part, 150))
    flagged = [_flags(api, code, MOST_FLAGS) for code in (shop.resin_can, part)]
    mine = {number for numbers in flagged for number in numbers}
    listed = [f["id"] for f in api.get(f"/v1/parts/{part}/flags?limit=200")]
    before = [number for number in reversed(listed) if number not in mine]
    for code, path, there in (
        (part, f"/v1/parts/{part}", [*before, *flagged[0], *flagged[1]]),
        (shop.resin_can, f"/v1/items/{shop.resin_can}", flagged[0]),
    ):
        view = api.get(path)
        assert ([f["id"] for f in view["flags"]], view["flags_count"]) == (there[-MOST_FLAGS:], len(there)), code
        listed = api.get(f"{path}/flags?limit=200")
        assert [f["id"] for f in listed] == there[::-1]
        assert listed[:MOST_FLAGS] == view["flags"][::-1]
    assert {f["item"] for f in api.get(f"/v1/parts/{part}/flags?limit=200")} >= {part, shop.resin_can}


def _flags(api: Api, code: str, count: int) -> list[int]:
    """So many flags on an item at once, as a shop would collect them over years."""
    from service.database import writing
    from service.records.journal import Deed

    with writing(), beside_any_act():
        item, deed = Item.get(Item.code == code), Deed.select().order_by(Deed.id.desc()).first()
        about = {"item": item.id, "kind": "over-the-book", "sentence": "Drawn past the book.", "facts": {}}
        rows = [
            {**about, "stops": False, "permission": None, "occurred_at": api.shop.clock.now, "deed": deed}
            for _ in range(count)
        ]
        return [row.id for row in Flag.insert_many(rows).returning(Flag.id).execute()]
