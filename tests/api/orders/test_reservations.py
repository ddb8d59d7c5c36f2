"""Materials are reserved for an order until it expires: others hear no, and who takes of them is asked first."""

import threading
import time
from dataclasses import replace
from typing import Any

import pytest

from service.database import connected, database, locked
from service.records.orders import Order
from tests import makers
from tests.journeys.conftest import floor
from tests.journeys.floor import Floor
from tests.pages.hand import Hand

__all__ = ["floor"]

WORK = {"temperature_c": 20, "wet_out_rate_g_min": 50}
UNTIL = "2026-11-20T12:00:00Z"


def _order(floor: Floor, reference: str, quantity: int, **more: Any) -> int:
    body = {"reference": reference, "lines": [{"part_number": "HY-131", "quantity": quantity}], **more}
    return int(floor.api.post("/v1/orders", body, who="integrator")["order"]["id"])


def _reserve(floor: Floor, order: int, *, expect: int = 201, **more: Any) -> Any:
    body = {"expires_at": UNTIL, **WORK, "hardeners": [floor.bench.slow], **more}
    return floor.api.post(f"/v1/orders/{order}/reservations", body, who="integrator", expect=expect)


def _check(floor: Floor, quantity: int, **more: Any) -> Any:
    body = {"lines": [{"part_number": "HY-131", "quantity": quantity}], **WORK, "hardeners": [floor.bench.slow], **more}
    return floor.api.post("/v1/build-checks", body, who="integrator", expect=200)


def _of(answer: Any, material: int) -> Any:
    return next(one for one in answer if one["material"] == material)


def _stock(floor: Floor) -> tuple[float, float]:
    (stock,) = floor.api.get(f"/v1/availability?material={floor.bench.resin}")["stock"]
    return stock["reserved_g"], stock["free_g"]


def _question(floor: Floor, total_g: float, **more: Any) -> Any:
    return floor.bench.refused("reserved-for-order", total_g, **more)


def _at_the_scales(floor: Floor, mix: str) -> None:
    """On the page the question stands with its button, and the tap on it records the pour."""
    hand = Hand(floor.api.client.application.test_client()).sign_on(floor.api.shop.keys["laminator"])
    hand.open(f"/I/{mix}")
    page = hand.tap("Enter the reading", reading_g="510")
    assert f"10 g of Alder 10 resin from {floor.bench.resin_can} leaves too little for order PO 7" in page
    assert "Take it all the same?" in page
    hand.tap("Yes, record it so")
    assert [pour["net_g"] for pour in floor.api.get(f"/v1/mixes/{mix}")["pours"]] == [510]


def _given_up(floor: Floor, mix: str) -> None:
    floor.api.post(f"/v1/mixes/{mix}/abandonment")


def test_reserved_asked_about_taken_and_free_again(floor: Floor) -> None:
    """5000 g of resin. Four parts of 1000 g each are reserved, so that one more is free, and no second."""
    api, bench = floor.api, floor.bench
    floor.design("HY-131", need_g=1300)
    order = _order(floor, "PO 7", 4, due="2026-12-10")
    made = _reserve(floor, order, remark="promised by phone")
    number = made["reservation"]["id"]
    assert (made["reservation"]["state"], made["reservation"]["called"]) == ("standing", "order PO 7")
    amount = _of(made["reservation"]["amounts"], bench.resin)
    assert (amount["line"], amount["parts"], amount["reserved_g"], amount["left_g"]) == (1, 4, 4000, 4000)
    assert _stock(floor) == (4000, 1000)
    # Another order's check counts less, whenever it is due; its own does not.
    check = _check(floor, 2)
    resin = _of(check["materials"], bench.resin)
    assert (check["answer"], resin["reserved_for_others_g"], resin["short_g"]) == ("no", 4000, 1000), check["sentence"]
    assert f"4000 g is reserved for order {order}." in check["sentence"]
    assert _check(floor, 2, lines=[{"part_number": "HY-131", "quantity": 2, "due_on": "2026-11-20"}])["answer"] == "no"
    assert _check(floor, 1)["answer"] == "yes"
    assert _check(floor, 4, order=order)["answer"] == "yes"
    # A pot for something else: what is free is nobody's business, one gram more is asked about.
    free = bench.start(650)["code"]
    other = bench.start(650)["code"]
    said = _question(floor, 65)
    assert said["answer_with"] == {"despite_reservation": True}
    assert (said["orders"], said["reservations"]) == ([order], [number])
    assert "leaves too little for order PO 7" in said["detail"]
    assert "4000 g is reserved for it" in said["detail"]
    assert api.get(f"/v1/containers/{bench.resin_can}")["reserved_g"] == 1000, "nothing was half done"
    # At the scales: what was planned is poured without a word, what goes beyond it is asked about.
    bench.pour(free, bench.resin_can, 500)
    pour = {"container": bench.resin_can, "scale": bench.scale, "reading_g": 510, "source": "typed"}
    problem = api.post(f"/v1/mixes/{other}/pours", pour, expect=409)
    _at_the_scales(floor, other)
    assert (problem["type"].rpartition("/")[2], problem["orders"]) == ("reserved-for-order", [order])
    assert "10 g of Alder 10 resin" in problem["detail"]
    assert _stock(floor) == (4000, 0)
    # The order cannot be kept any more, and nobody is asked about what is lost already.
    _given_up(floor, bench.start(65)["code"])
    api.post(f"/v1/containers/{bench.resin_can}/scrapping", {"method": "spread thin"})


def test_what_is_for_the_order_uses_its_reservation_up(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    floor.design("HY-131", need_g=1300)
    order = _order(floor, "PO 7", 5)
    number = _reserve(floor, order)["reservation"]["id"]
    parts = [part["code"] for part in api.get(f"/v1/orders/{order}/parts")]
    _question(floor, 65)
    # The same pot for a part of the order: its start takes the reservation's place.
    mine = bench.start(650, parts=[parts[0]])["code"]
    left = _of(api.get(f"/v1/reservations/{number}")["amounts"], bench.resin)
    assert (left["reserved_g"], left["left_g"]) == (5000, 4500)
    assert _stock(floor) == (4500, 0)
    _question(floor, 65)
    _given_up(floor, mine)
    assert _stock(floor) == (5000, 0), "a pot that is given up has taken nothing"
    # A part that takes more than its share leaves the others' alone.
    pots = [bench.start(975, parts=[parts[0]])["code"] for _ in range(2)]
    assert _of(api.get(f"/v1/reservations/{number}")["amounts"], bench.resin)["left_g"] == 4000
    for pot in pots:
        _given_up(floor, pot)
    # Cloth: a kit that is cut for a part is what was reserved for it, and one for nobody is asked about.
    cloth = _of(api.get(f"/v1/reservations/{number}")["amounts"], floor.cloth)
    assert (cloth["parts"], cloth["left_mm"]) == (5, cloth["reserved_mm"])
    each = cloth["reserved_mm"] // 5
    roll = api.get(f"/v1/containers/{floor.roll}")["left_mm"]
    spare = roll - cloth["reserved_mm"]
    cut = {"cuts": [{"roll": floor.roll, "length_mm": spare + 1}]}
    problem = api.post("/v1/kits", cut, expect=409)
    assert problem["answer_with"] == {"despite_reservation": True}
    api.post("/v1/kits", {"cuts": [{"roll": floor.roll, "length_mm": each}], "part": parts[0]})
    assert _of(api.get(f"/v1/reservations/{number}")["amounts"], floor.cloth)["left_mm"] == 4 * each
    # Whoever scraps the can that the order counts on is asked, told which order it is, and may do it all the same.
    scrapping = f"/v1/containers/{bench.resin_can}/scrapping"
    problem = api.refused(scrapping, {"method": "spread thin"}, "reserved-for-order")
    assert (problem["orders"], problem["answer_with"]) == ([order], {"despite_reservation": True})
    assert "5000 g of Alder 10 resin" in problem["detail"]
    assert api.get(f"/v1/containers/{bench.resin_can}")["state"] != "scrapped"
    gone = api.post(scrapping, {"method": "spread thin", "despite_reservation": True})
    assert (gone["state"], gone["left_g"]) == ("scrapped", 0)


def test_of_several_who_reserve_the_last_can_at_once_one_gets_it_and_the_others_hear_why(floor: Floor) -> None:
    floor.design("HY-131", need_g=1300)
    orders = [_order(floor, f"PO {n}", 3) for n in range(4)]
    answers: list[Any] = [None] * len(orders)
    together = threading.Barrier(len(orders))

    def run(number: int) -> None:
        one = replace(floor.api, client=floor.api.client.application.test_client())
        body = {"expires_at": UNTIL, **WORK, "hardeners": [floor.bench.slow]}
        together.wait(timeout=30)
        answers[number] = one.call("POST", f"/v1/orders/{orders[number]}/reservations", body, who="integrator")

    threads = [threading.Thread(target=run, args=(number,)) for number in range(len(orders))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=120)
    assert sorted(answer.status_code for answer in answers) == [201, 409, 409, 409]
    refused = [answer.get_json() for answer in answers if answer.status_code == 409]
    assert {one["type"].rpartition("/")[2] for one in refused} == {"cannot-be-reserved"}
    assert _stock(floor) == (3000, 2000)


def test_released_by_cancelling_by_hand_and_by_the_clock(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    floor.design("HY-131", need_g=1300)
    orders = [_order(floor, f"PO {n}", 2) for n in (1, 2)]
    numbers = [_reserve(floor, order)["reservation"]["id"] for order in orders]
    assert _stock(floor) == (4000, 1000)
    # Sent again it takes the place of the first, and reserves nothing twice.
    again = _reserve(floor, orders[0])
    assert again["instead_of"] == [numbers[0]]
    assert api.get(f"/v1/reservations/{numbers[0]}")["released_why"] == "reserved anew"
    assert _stock(floor) == (4000, 1000)
    # A line that wants fewer: the part that left the plan wants nothing.
    version = api.get(f"/v1/orders/{orders[1]}")["version"]
    api.call("PATCH", f"/v1/orders/{orders[1]}/lines/1", {"quantity": 1}, who="lead", If_Match=f'"{version}"')
    assert _stock(floor) == (3000, 2000)
    api.post(f"/v1/orders/{orders[1]}/cancellation", who="lead")
    gone = api.get(f"/v1/reservations/{numbers[1]}")
    assert (gone["state"], gone["released_why"]) == ("released", "the order was cancelled")
    assert _stock(floor) == (2000, 3000)
    mine = again["reservation"]["id"]
    standing = [row["id"] for row in api.get(f"/v1/reservations?standing=true&material={bench.resin}")]
    assert standing == [mine]
    floor.clock.forward(minutes=60 * 24 * 18)
    assert api.get(f"/v1/reservations/{mine}")["state"] == "expired"
    assert _stock(floor) == (0, 5000)
    api.refused(f"/v1/reservations/{mine}/release", {}, "wrong-state", who="lead")
    later = _reserve(floor, orders[0], expires_at="2026-12-20T12:00:00Z")["reservation"]["id"]
    for _ in range(2):
        let_go = api.post(f"/v1/reservations/{later}/release", {"why": "the customer waits"}, who="lead")
        assert (let_go["state"], let_go["released_why"]) == ("released", "the customer waits")
    assert _stock(floor) == (0, 5000)


def test_a_reservation_rests_on_what_is_expected_only_where_it_is_said(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    floor.design("HY-131", need_g=1300)
    makers.cans(api, bench.slow, bench.place, "H-8", net_g=1000)
    order = _order(floor, "PO 7", 6)
    no = _reserve(floor, order, expect=409)
    assert (no["type"].rpartition("/")[2], no["answer"]) == ("cannot-be-reserved", "no")
    coming = {"material": bench.resin, "mass_g": 2000, "expected_on": "2026-11-03", "reference": "PO 4471"}
    expected = api.post("/v1/expected-deliveries", coming, who="integrator")
    check = _check(floor, 6, order=order)
    assert (check["answer"], [c["kind"] for c in check["conditions"]]) == ("yes, if", ["delivery"])
    assert "The delivery PO 4471, expected on 3 Nov 2026 comes" in check["sentence"]
    asked = _reserve(floor, order, expect=409)
    assert asked["answer_with"] == {"with_conditions": True}
    _reserve(floor, order, with_conditions=True)
    # 1000 g are left of stock and delivery: another order cannot rest on the same delivery.
    assert _check(floor, 2)["answer"] == "no"
    one = _check(floor, 1)
    assert one["answer"] == "yes, if", one["sentence"]
    for _ in range(2):
        bench.start(650)
    _question(floor, 65)
    put_off = {"expected_on": "2026-11-25", "why": "the haulier"}
    moved = api.call("PATCH", f"/v1/expected-deliveries/{expected['id']}", put_off, who="lead", If_Match='"1"')
    assert moved.get_json()["expected_on"] == "2026-11-25"
    ended = api.post(f"/v1/expected-deliveries/{expected['id']}/ending", {"ended_as": "cancelled"}, who="lead")
    assert ended["ended_as"] == "cancelled"
    assert api.get("/v1/expected-deliveries?ended=false") == []
    api.refused(f"/v1/expected-deliveries/{expected['id']}/ending", {"ended_as": "arrived"}, "wrong-state", who="lead")


def test_what_cannot_be_reserved_says_why_and_where(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    floor.design("HY-131", need_g=1300)
    order = _order(floor, "PO 7", 1)
    for more, pointer in (
        ({"expires_at": "2026-11-02T00:00:00Z"}, "/expires_at"),
        ({"expires_at": "2028-11-02T00:00:00Z"}, "/expires_at"),
        ({"lines": [1, 9]}, "/lines/1"),
        ({"hardeners": [floor.cloth]}, "/hardeners/0"),
    ):
        problem = _reserve(floor, order, expect=422, **more)
        assert problem["errors"][0]["pointer"] == pointer, problem
    for coming, pointer in (
        ({"material": floor.cloth, "mass_g": 5}, "/length_mm"),
        ({"material": bench.resin, "length_mm": 5}, "/mass_g"),
        ({"material": 999, "mass_g": 5}, "/material"),
        ({"material": bench.resin, "mass_g": -5}, "/mass_g"),
        ({"material": bench.resin, "mass_g": 10**15}, "/mass_g"),
        ({"material": bench.resin, "mass_g": 5, "supplier": 999}, "/supplier"),
        ({"material": bench.resin, "mass_g": 5, "expires_on": "2026-11-01"}, "/expires_on"),
    ):
        problem = api.post("/v1/expected-deliveries", {"expected_on": "2026-11-09", **coming}, who="lead", expect=422)
        assert problem["errors"][0]["pointer"] == pointer, problem
    api.post(f"/v1/orders/{order + 7}/reservations", {"expires_at": UNTIL, **WORK}, who="lead", expect=404)
    api.post(f"/v1/orders/{order}/cancellation", who="lead")
    assert _reserve(floor, order, expect=409)["type"].endswith("wrong-state")


def test_strokes_fillers_plies_off_a_roll_and_blends_are_asked_about_like_a_pour(floor: Floor) -> None:
    """4000 g of 5000 g of resin are reserved, 1200 g of 2000 g of hardener, and all the cloth that is left."""
    api, bench = floor.api, floor.bench
    design = floor.design("HY-131", need_g=1300)
    order = _order(floor, "PO 7", 4)
    cloth = _of(_reserve(floor, order)["reservation"]["amounts"], floor.cloth)["reserved_mm"]
    strong = makers.material(api, "Alder 34 hardener", "hardener")
    strong_can = makers.cans(api, strong, bench.place, "X-1", net_g=2000)[0]
    mixed = makers.material(api, "Alder 32/34 half and half", "hardener")
    own = {"speed": "slow", "cup_life": makers.CUP_LIFE}
    halves = [{"material": material, "fraction_pct": 50} for material in (bench.slow, strong)]
    system = makers.system_of(api, bench.resin, [
        {"material": bench.slow, "parts_by_weight": 30, **own}, {"material": strong, "parts_by_weight": 40, **own},
        {"material": mixed, **own, "blend": {"of": halves, "tolerance_pct": 2, "source": "data sheet"}},
    ], "Alder 10 blends")["id"]  # fmt: skip
    pump = api.post("/v1/pumps", {"name": "Resin pump"}, who="lead")["code"]
    pairs = [{"resin_g": 20, "hardener_g": 6} for _ in range(6)]
    api.post(f"/v1/scales/{pump}/shots", {"system": bench.system, "hardener": bench.slow, "pairs": pairs})
    part = floor.part(design)
    # Of the 1000 g of resin that are free 995.3 g are planned for these three.
    bench.start(650)
    pumped = bench.start(390, scale=pump)["code"]
    filled = bench.start(250, hardener=bench.fast, containers=[{"container": bench.resin_can},
                                                               {"container": bench.fast_can}])["code"]  # fmt: skip
    left = api.get(f"/v1/containers/{floor.roll}")["left_mm"]
    api.post("/v1/kits", {"cuts": [{"roll": floor.roll, "length_mm": left - cloth - 50}]})
    asked = [
        (f"/v1/mixes/{pumped}/strokes", {"scale": pump, "resin_container": bench.resin_can, "resin_strokes": 16,
                                         "hardener_container": bench.slow_can, "hardener_strokes": 15}),
        (f"/v1/mixes/{filled}/fillers", {"container": bench.slow_can, "mass_g": 700}),
        (f"/v1/resin-systems/{system}/blends", {"hardener": mixed, "place": bench.place, "containers": [
            {"container": bench.slow_can, "mass_g": 700}, {"container": strong_can, "mass_g": 700}]}),
        (f"/v1/parts/{part}/plies", {"number": 1, "source": floor.roll, "angle_deg": 0, "length_mm": 60}),
    ]  # fmt: skip
    cans = (bench.resin_can, bench.slow_can, floor.roll)
    before = [api.get(f"/v1/containers/{can}") for can in cans]
    for path, body in asked:
        problem = api.post(path, body, expect=409)
        assert (problem["type"].rpartition("/")[2], problem["orders"]) == ("reserved-for-order", [order]), path
        assert "leaves too little for order PO 7" in problem["detail"]
    assert [api.get(f"/v1/containers/{can}") for can in cans] == before, "nothing was half done"
    for path, body in (asked[0], asked[3]):
        api.post(path, {**body, **problem["answer_with"]})
    assert api.get(f"/v1/containers/{floor.roll}")["left_mm"] == cloth - 10
    assert api.get(f"/v1/containers/{bench.resin_can}")["left_g"] == 5000 - 320


@pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
def test_what_is_taken_between_the_check_and_the_lock_is_heard_of_under_the_lock(floor: Floor) -> None:
    """The order is held until its check has said yes and waits for it; then 50 g are planned for somebody else."""
    floor.design("HY-131", need_g=1300)
    order = _order(floor, "PO 7", 5)
    held, asked, answers = threading.Event(), threading.Event(), []

    def hold() -> None:
        with connected(), database.atomic():
            list(locked(Order.select().where(Order.id == order)))
            held.set()
            asked.wait(timeout=60)

    def reserve() -> None:
        one = replace(floor.api, client=floor.api.client.application.test_client())
        body = {"expires_at": UNTIL, **WORK, "hardeners": [floor.bench.slow]}
        answers.append(one.call("POST", f"/v1/orders/{order}/reservations", body, who="integrator"))

    threads = [threading.Thread(target=run) for run in (hold, reserve)]
    threads[0].start()
    assert held.wait(timeout=30)
    threads[1].start()
    for _ in range(300):
        with connected():
            (waiting,) = database.execute_sql("SELECT count(*) FROM pg_locks WHERE NOT granted").fetchone()
        if waiting or answers:
            break
        time.sleep(0.1)
    floor.bench.start(65)
    asked.set()
    for thread in threads:
        thread.join(timeout=60)
    problem = answers[0].get_json()
    assert (waiting, answers[0].status_code) == (1, 409), problem
    assert problem["detail"].startswith("Alder 10 resin is not enough any more: somebody has taken or reserved of it")
    assert _stock(floor) == (0, 4950)


def test_an_order_is_late_by_the_shops_day_and_is_reserved_as_early_as_it_can_be(floor: Floor) -> None:
    """Half past eleven in the evening by UTC is the next day in Copenhagen: what was due on the third is late there."""
    floor.design("HY-131", need_g=1300)
    order = _order(floor, "PO 7", 1, due="2026-11-03")
    floor.clock.now = floor.clock.now.replace(hour=23, minute=30)
    assert _reserve(floor, order)["check"]["lines"][0]["due_on"] is None
