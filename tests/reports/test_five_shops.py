"""Five shops that are not the demo's, as accounts: a roll, an oven, a mixer, cold nights, and nothing at all.

The same sixteen parts, made through the acts of the service; in each story others of them fail, and what is asserted
is what the report says. In one run the account is built once for each engine; on PostgreSQL it is among the sweeps.
"""

from typing import Any

import pypdfium2
import pytest

from service.database import connected
from service.records.items import Item
from service.reports.finding.comparing import compare
from tests.reports.crossed_yard import CrossedYard, cold, crossed_yard, first_bit, odd_of_two, second_bit

pytestmark = pytest.mark.parametrize(
    "database_url", ["sqlite", pytest.param("postgresql", marks=pytest.mark.sweep)], indirect=True
)

KINDS = {
    "lot", "container", "pot", "kit", "roll", "scale", "scale interval", "mould", "cure", "tool", "day", "week",
    "shift", "material", "design", "person",
}  # fmt: skip
NUMBERS = {
    "temperature of the cure within its band",
    "time in band",
    "warmest that the coolest probe became in the cure",
    "deviation from the ratio",
    "distance from the ratio to either side",
    "temperature of the coldest pot",
    "margin over the dew point",
    "air at the mould",
    "days open at use",
    "days left at use",
    "time from first contact to the last of the film",
    "time of the last film until the lay-up was closed",
    "stirring of the pot stirred least",
    "thickness",
    "fabric cut for it over the mass of the trimmed part",
    "pulls since the mould's release",
}


@pytest.fixture
def yard(api: Any) -> CrossedYard:
    return crossed_yard(api)


def _paper(api: Any, part: str) -> str:
    """The text of the printed report, its lines joined."""
    pdf = api.call("GET", f"/v1/parts/{part}/investigation.pdf", who="quality").data
    return " ".join("".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf)).split())


def _accused(found: Any) -> list[str]:
    every = [*found["ranked"], *found["people"], *found["numbers"]]
    return [one["name"] for one in every if one["verdict"] == "stands out"]


def test_a_roll_whose_parts_are_rejected_at_inspection_is_named(yard: CrossedYard) -> None:
    """Seven of the eight that were cut from it are rejected; none of them ever left the yard."""
    of_the_roll = yard.those(first_bit)
    failed = [part for place, part in enumerate(of_the_roll) if place != 5]
    yard.reject(failed)
    report = yard.report(failed[0])
    found = report["suspects"]
    roll = f"roll {yard.spaced(yard.rolls[1])}"
    assert (found["became"]["failed"], found["became"]["good"]) == (7, 9)
    assert (found["ranked"][0]["rank"], found["ranked"][0]["name"]) == (1, roll)
    assert (found["ranked"][0]["exposed"], found["ranked"][0]["others"]) == (
        {"parts": 8, "failed": 7}, {"parts": 8, "failed": 0}
    )  # fmt: skip
    assert _accused(found) == [roll]
    assert found["sentence"].endswith(
        f"one stands out from chance, from its period and from all others: {roll}. These are suspects, not causes: "
        "what goes together need not follow from one another."
    )
    assert (report["standing_out"][0]["lead"] + report["standing_out"][0]["rest"]).startswith(
        f"Of 8 parts with {roll}, 7 are soft; of 8 others, none"
    )
    # A rejected part is one of the failed wherever failures are counted, the one that is looked at among them.
    shared = next(one for one in report["shared"] if one["name"] == roll)
    assert (shared["parts"], shared["failed"]) == (8, 7)
    paper = _paper(yard.api, failed[0])
    assert "16 are compared, of which 7 failed like this one" in paper
    assert f"× {yard.spaced(failed[0])}" in paper
    # All that was cut from it, the one that held too, are its sisters, and where they are is said.
    sisters = {s["sister"]["code"]: s["sister"]["outcome"] for s in report["sisters"]}
    assert sisters == {p: "failed" if p in failed else "good" for p in of_the_roll if p != failed[0]}


def test_an_oven_is_named_and_nothing_else(yard: CrossedYard) -> None:
    failed = yard.those(second_bit)
    yard.come_back(failed)
    found = yard.suspects(failed[3])
    oven = f"Oven 2 ({yard.spaced(yard.ovens[1])})"
    assert _accused(found) == [found["ranked"][0]["name"]] == [oven]
    assert f"from all others: {oven}. These are suspects, not causes" in found["sentence"]
    # Sixteen parts of which eight failed, in sixteen cures: one of 12,870 ways.
    assert found["ranked"][0]["p"] == pytest.approx(1 / 12_870)
    assert found["smallest_p"] == pytest.approx(1 / 12_870)


def test_whoever_mixed_badly_is_seen_by_the_task_and_blamed_for_nothing(yard: CrossedYard) -> None:
    failed = yard.those(odd_of_two)
    yard.come_back(failed)
    report = yard.report(failed[2])
    found = report["suspects"]
    assert _accused(found) == ["weighed, Second Laminator"]
    assert "from all others: weighed, Second Laminator. That is no suspect: whoever does a task" in found["sentence"]
    assert "suspects, not causes" not in found["sentence"]
    assert {one["kind"] for one in found["ranked"]}.isdisjoint({"person"})
    assert "Laminator" not in " ".join(one["name"] for one in found["ranked"])
    assert report["sisters"] == [], "nobody is traced by who worked on a part"
    assert found["next_part"].startswith("Most would be told by two test pieces of the same materials, tools and day")


def test_cold_nights_inside_the_band_are_seen(yard: CrossedYard) -> None:
    """Each night became as warm for a moment and was proved; half of them then stayed near the lower edge."""
    failed = yard.those(cold)
    yard.come_back(failed)
    found = yard.suspects(failed[2])
    first = found["numbers"][0]
    assert (first["rank"], first["name"]) == (1, "temperature of the cure within its band")
    assert first["median_failed"] < 4 < first["median_good"] < 10
    assert _accused(found) == ["temperature of the cure within its band"]
    assert "from all others: temperature of the cure within its band. These are suspects" in found["sentence"]
    assert "one at " in found["next_part"]
    assert "K over its low edge" in found["next_part"]
    warmest = next(n for n in found["numbers"] if n["name"].startswith("warmest"))
    assert warmest["verdict"] == "no more than chance", "how warm it became for a moment tells nothing"


def test_a_bunch_of_failures_without_a_cause_accuses_nothing(yard: CrossedYard) -> None:
    failed = yard.parts[6:11]
    yard.come_back(failed)
    found = yard.suspects(failed[2])
    assert _accused(found) == []
    assert "suspects, not causes" in found["sentence"] or found["sentence"].endswith("That clears nothing.")
    assert "stands out" not in found["sentence"]
    first = found["ranked"][0]
    assert first["verdict"] in ("cannot be told from that period", "no more than chance")
    assert all(one["verdict"] == "no more than chance" for one in found["people"])


def test_everything_that_a_report_is_to_look_at_is_looked_at(yard: CrossedYard) -> None:
    """Each kind of factor, each task and each number by its name; ages by a limit that was found out later."""
    api = yard.api
    hardener = api.get(f"/v1/materials/{yard.bench.slow}")
    body = {"opened_life_days": 8, "why": "data sheet revision 5"}
    changed = api.call("PATCH", f"/v1/materials/{yard.bench.slow}", body, who="lead",
                       If_Match=f'"{hardener["version"]}"')  # fmt: skip
    assert changed.status_code == 200
    early, late = yard.parts[3], yard.parts[12]
    yard.come_back([early, late])
    for part, age in ((late, "age"), (early, "before")):
        found = yard.suspects(part)
        assert age in {one["kind"] for one in found["ranked"]}
        assert found["splits"][0]["limit_days"] == 8
    with connected():
        seen = compare(Item.get(Item.code == early).id, at=api.shop.clock.now)
    assert {f.kind for f in seen.factors} >= KINDS
    tasks = [f.name for f in seen.factors if f.kind == "person"]
    assert {name.partition(",")[0] for name in tasks} >= {"weighed", "cut the kit", "laid plies", "started the cure"}
    assert len(tasks) == len(set(tasks))
    assert not any(name.startswith(("weighed by", "laid by", "started by")) for name in tasks), "each task once"
    assert {n.name.partition(",")[0] for n in seen.numbers} >= NUMBERS
    # Each of them is held against what was measured of the parts, too.
    told = yard.suspects(early)["numbers"]
    assert {n["name"] for n in told} <= {n.name for n in seen.numbers}
    assert all(n["tau"] is not None and n["p_trend"] is not None for n in told)
