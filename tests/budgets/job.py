"""One whole job over HTTP, in which every act of the shop happens at least once, listened to request by request."""

from collections.abc import Callable
from dataclasses import dataclass, field, fields
from typing import Any

from service.operations.door.operation import OPERATIONS
from tests import makers, polyester
from tests.budgets import office
from tests.conftest import Api
from tests.journeys import floor
from tests.statements import Statements, statements

# What has no route: it is done at the machine itself.
FROM_THE_MACHINE = {"recover_administrator", "declare_restored", "keep_drill"}
# What the page for browsers does, which answers with pages.
FROM_THE_MACHINE |= {"begin_session", "end_session", "end_tablet"}


@dataclass
class Heard:
    """One request that did something: the operation behind it, its answer, and what it said to the database."""

    operation: str
    path: str
    answer: Any
    said: Statements


@dataclass
class Listening(Api):
    """The service over HTTP, listened to. `after` is called with each act that was done, before the next."""

    heard: list[Heard] = field(default_factory=list)
    after: Callable[[Heard], None] | None = None

    def call(self, method: str, path: str, body: Any = None, *, who: str = "laminator", **headers: str) -> Any:
        with statements() as said:
            answer = super().call(method, path, body, who=who, **headers)
        if method == "GET" or not 200 <= answer.status_code < 300:
            return answer
        urls = self.client.application.url_map.bind("localhost")
        endpoint, _ = urls.match(path.partition("?")[0], method=method)
        name = endpoint.rpartition(".")[2]
        if name in OPERATIONS:
            one = Heard(name, path, answer.get_json(), said)
            self.heard.append(one)
            if self.after is not None:
                self.after(one)
        return answer


def listening(api: Api) -> Listening:
    return Listening(**{one.name: getattr(api, one.name) for one in fields(api)})


def whole_job(api: Listening) -> None:
    """Deliver, weigh, lay up, cure, inspect, release and ship; hold, permit, correct and label along the way."""
    # Not at the hour at which other tests begin: what they make once and put back is to happen here.
    api.shop.clock.forward(minutes=1)
    yard = floor.founded(api)
    _stock(yard)
    _pots(yard)
    _promoted_pot(api)
    _pumped_pot(yard)
    _parts(yard)
    _in_service(yard)
    office.promises(yard)
    office.registers(yard)
    api.call("POST", "/v1/imports/suppliers", b"name,approved\nGlass mill,yes\n", who="lead")
    office.recall(yard)
    office.webhooks(api)
    office.orders(yard)
    office.costs(api)


def _stock(yard: floor.Floor) -> None:
    api, bench = yard.api, yard.bench
    opening = {"material": bench.resin, "place": bench.place, "expires_on": "2027-01-31", "makers_lot": "OLD-1",
               "containers": [{"net_g": 400}], "supplier": 1}  # fmt: skip
    old = api.post("/v1/opening-stock", opening, who="lead")["code"]
    api.post(f"/v1/lots/{old}/checks", {"name": "crystals", "result": "clear", "passed": True})
    api.post(f"/v1/lots/{old}/extension", {"until": "2027-12-31", "method": "gel time", "result": "31 min"},
             who="quality")  # fmt: skip
    api.post(f"/v1/lots/{old}/extension/agreement", who="lead")
    kept = api.call("POST", "/v1/documents?name=certificate.pdf", b"%PDF-1.7 lot 26-0914", who="lead").get_json()
    lot = makers.lot(api, bench.resin, bench.place, makers_lot="26-0914", released=False,
                     containers=[{"net_g": 5000, "count": 2}, {"net_g": 800}])  # fmt: skip
    paper = {"type": "3.1", "number": "AC-1881", "issued_on": "2026-09-14", "makers_lot": "26-0914"}
    api.post(f"/v1/lots/{lot['code']}/certificates", {**paper, "document": kept["id"]}, who="lead")
    api.post(f"/v1/lots/{lot['code']}/release", who="lead")
    can, other, small = lot["containers"]
    api.post(f"/v1/items/{can}/labels", {"size": "100x50"})
    api.post(f"/v1/items/{can}/labels/replacement", {"size": "100x50", "why": "resin ran over it"})
    api.post(f"/v1/lots/{lot['code']}/labels", {"size": "62"})
    api.post(f"/v1/containers/{can}/opening")
    api.post(f"/v1/containers/{can}/decants", {"mass_g": 600, "tare_g": 85})
    api.post(f"/v1/containers/{can}/weighings", {"gross_g": 4600, "tare_g": 250})
    api.post(f"/v1/items/{other}/moves", {"place": yard.oven})
    api.post(f"/v1/containers/{small}/scrapping", {"method": "cured out in thin layers", "why": "dented"})
    note = {"supplier": 1, "delivery_note": "LN 4472", "place": bench.place, "lots": [
        {"material": bench.resin, "makers_lot": "26-0920", "expires_on": "2027-09-30", "containers": [{"net_g": 500}]},
        {"material": bench.slow, "makers_lot": "26-0921", "expires_on": "2027-09-30", "containers": [{"net_g": 500}]},
    ]}  # fmt: skip
    came = api.post("/v1/delivery-notes", note)
    api.post("/v1/lot-releases", {"lots": [each["code"] for each in came]}, who="lead")
    wrong = makers.lot(api, bench.resin, bench.place, makers_lot="26-0915", released=False,
                       containers=[{"net_g": 500}])  # fmt: skip
    api.post(f"/v1/lots/{wrong['code']}/rejection", {"why": "wrong colour"}, who="lead")
    api.post(f"/v1/places/{bench.place}/readings", {"temperature_c": 19.5, "humidity_pct": 55})
    api.post(f"/v1/places/{bench.place}/settings", {"cold": False, "read_every_days": 7}, who="lead")
    began = api.shop.clock.now.isoformat()
    core = makers.material(api, "Bedding adhesive", "adhesive", storage_low_c=5, storage_high_c=15)
    makers.cans(api, core, bench.place, "26-0930")
    api.post(f"/v1/places/{bench.place}/readings", {"temperature_c": 19.5})
    api.post(f"/v1/places/{bench.place}/reviews", {"material": core, "begins_at": began, "ends_at": began,
             "decision": "use", "why": "one warm day"}, who="quality")  # fmt: skip


def _pots(yard: floor.Floor) -> None:
    api, bench = yard.api, yard.bench
    part = makers.started_part(api)
    plan = {"need_g": 1000, "wet_out_rate_g_min": 25, "number": 1, "of": 2}
    mix = bench.start(500, parts=[part], plan=plan)["code"]
    bench.pour(mix, bench.resin_can, 390)
    api.post(f"/v1/mixes/{mix}/pour-backs", {"container": bench.resin_can, "mass_g": 5.4})
    bench.pour(mix, bench.slow_can, 110)
    api.post(f"/v1/mixes/{mix}/pours/undo", {"declaration": "incorrect data", "reading_g": 111})
    api.post(f"/v1/mixes/{mix}/contact", {"temperature_c": 21})
    bench.pour(mix, bench.slow_can, 4.4, correction=True)
    bench.stir(mix)
    filler = makers.material(api, "Glass bubbles", "filler", density_g_ml=0.2)
    bubbles = makers.cans(api, filler, bench.place, "B-1", net_g=400)[0]
    api.post(f"/v1/mixes/{mix}/fillers", {"container": bubbles, "mass_g": 10})
    api.post(f"/v1/mixes/{mix}/tray")
    bench.apply(mix, (part, 200))
    bench.apply(mix, part, yard.part(yard.design("HY-110")))
    api.post(f"/v1/mixes/{mix}/closing", {"left_g": 12.5, "cup_kept": True})
    api.post(f"/v1/mixes/{mix}/cup-checks", {"hard": True, "hardness": 82, "hardness_scale": "Shore D"})
    # One in which nearly everything is wrong: overdue scale, nothing stirred, far out of ratio, late, not covered.
    api.post(f"/v1/scales/{bench.scale}/checks", {"weight": "W", "nominal_g": 500, "reading_g": 500, "limit_g": 0.2})
    bad = bench.start(300)["code"]
    bench.pour(bad, bench.resin_can, 230)
    bench.pour(bad, bench.slow_can, 52, zeroed=True)
    bench.pour(bad, bench.fast_can, 11, correction=True)
    api.shop.clock.forward(minutes=200)
    bench.apply(bad, (part, 330), read_back_g=330)
    api.post(f"/v1/mixes/{bad}/discard", {"reason": "hot"})
    gone = bench.start(200)["code"]
    bench.pour(gone, bench.resin_can, 150)
    api.post(f"/v1/mixes/{gone}/abandonment")
    api.post(f"/v1/scales/{bench.scale}/checks", {"weight": "W", "nominal_g": 500, "reading_g": 503, "limit_g": 0.2})
    api.post(f"/v1/scales/{bench.scale}/checks", {"weight": "W", "nominal_g": 500, "reading_g": 500, "limit_g": 0.2})


def _promoted_pot(api: Listening) -> None:
    """A pot that takes promoter, and then its peroxide by the measure."""
    bench = polyester.stocked(api)
    measure = api.post("/v1/measures", {"name": "Catalyst measure", "step_ml": 0.5, "capacity_ml": 50}, who="lead")
    mix = bench.promoted(hardener_scale=measure["code"])["code"]
    bench.pour(mix, bench.plain_can, 1000)
    bench.pour(mix, bench.promoter_can, 4, scale=bench.fine)
    bench.stir(mix)
    api.post(f"/v1/mixes/{mix}/catalyst", {"container": bench.bottle, "promoter_away": True})
    bench.pour(mix, bench.bottle, reading_ml=13, scale=measure["code"])
    api.post(f"/v1/mixes/{mix}/discard", {"reason": "warm"})


def _pumped_pot(yard: floor.Floor) -> None:
    """A pump is checked, gives a pot, gets another hose and fails; and two hardeners are blended in a can."""
    api, bench = yard.api, yard.bench
    blend = makers.material(api, "Alder 31/32 half and half", "hardener")
    system = makers.system_of(api, bench.resin, [
        {"material": bench.slow, "speed": "slow", "parts_by_weight": 30, "cup_life": makers.CUP_LIFE},
        {"material": bench.fast, "speed": "fast", "parts_by_weight": 28, "cup_life": makers.CUP_LIFE},
        {"material": blend, "speed": "medium", "cup_life": makers.CUP_LIFE, "blend": {
            "of": [{"material": bench.slow, "fraction_pct": 50}, {"material": bench.fast, "fraction_pct": 50}],
            "tolerance_pct": 2, "source": "data sheet"}},
    ], "Alder 10 by pump")["id"]  # fmt: skip
    body = {"hardener": blend, "place": bench.place, "containers": [
        {"container": bench.slow_can, "mass_g": 100}, {"container": bench.fast_can, "mass_g": 100}]}  # fmt: skip
    api.post(f"/v1/resin-systems/{system}/blends", body)
    pump = api.post("/v1/pumps", {"name": "Resin pump"}, who="lead")["code"]
    shots = [{"resin_g": a, "hardener_g": b} for a, b in [(18, 4), *[(20, 6), (20.05, 6.01), (19.95, 5.99)] * 2]]
    check = {"system": system, "hardener": bench.slow, "pairs": shots}
    api.post(f"/v1/scales/{pump}/shots", check)
    mix = bench.start(260, system=system, scale=pump)["code"]
    strokes = {"scale": pump, "resin_container": bench.resin_can, "hardener_container": bench.slow_can,
               "resin_strokes": 10, "hardener_strokes": 10}  # fmt: skip
    api.post(f"/v1/mixes/{mix}/strokes", strokes)
    api.post(f"/v1/mixes/{mix}/discard", {"reason": "a trial"})
    api.post(f"/v1/scales/{pump}/hose-changes", {"remark": "new hose on B"})
    api.post(f"/v1/scales/{bench.scale}/line-format", {"line_format": "ST,*,{number}{unit}"}, who="lead")
    api.post(f"/v1/scales/{bench.scale}/readings", {"line": "ST,GS,+  260.0 g"})
    short = [{"resin_g": 20, "hardener_g": 5}, *[{"resin_g": 20, "hardener_g": 5 + n / 100} for n in range(5)]]
    api.post(f"/v1/scales/{pump}/shots", {**check, "pairs": short})


def _parts(yard: floor.Floor) -> None:
    api, bench = yard.api, yard.bench
    api.post(f"/v1/moulds/{yard.mould['code']}/settings", {"hours": 20}, who="lead")
    yard.ready_mould()
    design = yard.design()
    by_ply = yard.design("HY-205", ply_by_ply=True)
    part = yard.part(design, mould=yard.mould["code"], order="4471", customer="Rowing club")
    other = yard.part(by_ply)
    yard.kit(design, part)
    for number, angle in ((1, 0), (2, 45), (3, 0)):
        api.post(f"/v1/parts/{other}/plies", {"number": number, "source": yard.roll, "angle_deg": angle,
                                              "length_mm": 500})  # fmt: skip
    core = makers.material(api, "Foam core", "core", density_g_ml=0.08)
    foam = makers.cans(api, core, bench.place, "C-1", net_g=900)[0]
    api.post(f"/v1/parts/{part}/uses", {"container": foam, "purpose": "core, root", "mass_g": 42.5})
    api.post(f"/v1/parts/{part}/steps",
             {"kind": "drop test", "start_mbar": 910, "end_mbar": 896, "minutes": 5, "gauge": "G2"})  # fmt: skip
    pot = yard.pot(part, other, parts=[part, other])["code"]
    for code in (part, other):
        yard.close_lay_up(code)
    yard.cure(part, other)
    yard.cups_hard(pot)
    makers.cured(api, makers.laid_up_part(api, "HY-300"))
    cure = api.post("/v1/cures", {"schedule": floor.SCHEDULE, "parts": [makers.laid_up_part(api, "HY-300")]})["code"]
    reset = yard.clock.now.isoformat()
    reading = {"low_c": 18.5, "high_c": 22.0, "reset_at": reset, "remark": "beside the mould"}
    api.post(f"/v1/cures/{cure}/thermometer", reading)
    yard.clock.forward(minutes=100)
    api.post(f"/v1/cures/{cure}/end")
    for code in (part, other):
        yard.finish(code)
    api.post(f"/v1/parts/{part}/components", {"component": other})
    fail = [{"kind": "delamination", "zone": "root", "size_mm": 12, "limit_mm": 5, "accepted": False}]
    api.post(f"/v1/parts/{other}/inspections", {"accepted": False, "defects": fail})
    found = api.get(f"/v1/nonconformances?item={other}")[0]["id"]
    api.post(f"/v1/nonconformances/{found}/decision", {"disposition": "use as is", "because": "away from the bolt"},
             who="quality")  # fmt: skip
    alone = yard.part(design)
    api.post(f"/v1/parts/{alone}/scrapping", {"method": "cut up", "why": "dropped"}, who="lead")
    whole = _another(yard, design)
    yard.release(whole)
    api.post(f"/v1/items/{whole}/labels", {"size": "62"})
    api.post("/v1/issues", {"kind": "part record", "subject": whole}, who="quality")
    yard.ship(whole)


def _another(yard: floor.Floor, design: int) -> str:
    """A part with nothing against it, ready for its release."""
    part = yard.part(design)
    yard.kit(design, part)
    pot = yard.pot(part, parts=[part])["code"]
    yard.close_lay_up(part)
    yard.cure(part)
    yard.cups_hard(pot)
    yard.finish(part)
    return part


def _in_service(yard: floor.Floor) -> None:
    api, bench = yard.api, yard.bench
    lot = api.get(f"/v1/containers/{bench.resin_can}")["lot"]
    hold = api.post("/v1/holds", {"item": lot, "reason": "cloudy, smells of ammonia"})["id"]
    api.post(f"/v1/holds/{hold}/lifting", {"why": "looked at again"}, who="quality")
    person = api.post("/v1/holds", {"person": api.shop.people["second laminator"], "reason": "skin rash"})["id"]
    api.post(f"/v1/holds/{person}/lifting", {"why": "well again"}, who="quality")
    api.post("/v1/look-backs", {"item": bench.scale, "since": "2026-11-02T06:00:00Z", "reason": "dropped"}, who="lead")
    asked = {"kind": "deviation permit", "item": bench.slow_can, "reasons": ["expired"], "why": "gelled in time"}
    for permitted in (True, False):
        number = api.post("/v1/permissions", asked)["id"]
        api.post(f"/v1/permissions/{number}/signature", {"permitted": permitted}, who="quality")
        if permitted:
            api.post(f"/v1/permissions/{number}/withdrawal", {"why": "gelled too late"}, who="quality")
    part = api.get("/v1/parts?state=shipped")[0]["code"]
    failed = {"item": part, "found": "cracked at the root on the water", "in_service": True, "failed": True,
              "defects": [{"kind": "crack", "zone": "root", "size_mm": 80}]}  # fmt: skip
    api.post("/v1/nonconformances", failed)
    jug = api.post(f"/v1/containers/{bench.slow_can}/decants", {"mass_g": 50})["code"]
    entry = api.get(f"/v1/journal?item={jug}&operation=decant", who="quality")[-1]
    amounts = [{"movement": entry["movements"][0]["id"], "mass_g": 5}]
    api.post(f"/v1/journal/{entry['seq']}/corrections",
             {"declaration": "incorrect data", "amounts": amounts, "why": "a nought too many"}, who="lead")  # fmt: skip
