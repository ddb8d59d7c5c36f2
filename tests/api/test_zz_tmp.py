import random
from typing import Any
from tests import makers

def test_fuzz(api: Any) -> None:
    bench = makers.mixing(api)
    tiny = makers.resin_system(api, bench.resin, {bench.slow: 0.1}, name="Tiny")
    big = makers.resin_system(api, bench.resin, {bench.slow: 1000}, name="Big")
    fine = makers.scale(api, "fine", interval_g=0.001, maximum_g=2000000)
    part = makers.started_part(api)
    filler = makers.cans(api, makers.material(api, "Micro", "filler"), bench.place, "M-1", no_expiry=True)[0]
    cloth = makers.material(api, "Twill 200", "fabric", form="woven", areal_weight_g_m2=200, width_mm=1000)
    roll = makers.lot(api, cloth, bench.place, makers_lot="W-1", containers=[{"length_mm": 50_000}], no_expiry=True)["containers"][0]
    rng = random.Random(5)
    cans = [bench.resin_can, bench.slow_can, bench.fast_can, filler, roll]
    amounts = [0.001, 0.002, 0.5, 1, 30, 100, 384.6, 999, 5000, 999999, 1000000, 0]
    mixes: list[str] = []
    seen: dict[Any, int] = {}
    for n in range(900):
        kind = rng.choice(["start", "pour", "pour", "pour", "pour-backs", "contact", "stirrings", "fillers", "tray", "applications", "closing", "discard", "abandonment", "cup-checks", "checks", "get", "film", "avail", "plan"])
        if not mixes or kind == "start":
            body = {"system": rng.choice([bench.system, tiny["id"], big["id"]]), "hardener": bench.slow, "purpose": "wet-out",
                    rng.choice(["total_g", "resin_g"]): rng.choice(amounts), "containers": [{"container": c} for c in rng.sample(cans, 2)] if rng.random() < .3 else [{"container": bench.resin_can}, {"container": bench.slow_can}],
                    "scale": rng.choice([bench.scale, fine]), "separate_cups": rng.random() < .3, "zeroed": rng.random() < .5}
            if rng.random() < .7: body["temperature_c"] = rng.choice([-20, 20, 25, 30, 120])
            if rng.random() < .3: body["hardener_scale"] = fine
            a = api.call("POST", "/v1/mixes", body)
            if a.status_code == 201: mixes.append(a.get_json()["code"])
        else:
            mix = rng.choice(mixes[-5:])
            api.shop.clock.forward(minutes=rng.choice([0, 1, 5]))
            now = api.shop.clock.now.isoformat()
            p = f"/v1/mixes/{mix}/{kind}"
            r = rng.choice(amounts)
            if kind == "pour":
                a = api.call("POST", p + "s", {"container": rng.choice(cans), "scale": rng.choice([bench.scale, fine]), "reading_g": r, "source": rng.choice(["typed", "captured"]), "zeroed": rng.random() < .6, "correction": rng.random() < .3, "read_back_g": r, "confirmed": True} | ({"emptied_cup_g": rng.choice(amounts)} if rng.random() < .1 else {}))
            elif kind == "pour-backs": a = api.call("POST", p, {"container": rng.choice(cans), "mass_g": r})
            elif kind == "contact": a = api.call("POST", p, {"temperature_c": rng.choice([-20, 20, 120]), "contact_at": now, "why": "x"})
            elif kind == "stirrings": a = api.call("POST", p, {"started_at": now, "ended_at": now, "scraped": True})
            elif kind == "fillers": a = api.call("POST", p, {"container": rng.choice(cans), "mass_g": r, "confirmed": True})
            elif kind == "applications": a = api.call("POST", p, {"parts": [{"part": part} | ({"mass_g": r} if rng.random() < .5 else {}) for _ in range(rng.choice([1, 2, 3]))]})
            elif kind == "closing": a = api.call("POST", p, rng.choice([{"left_g": r}, {"all_used": True}, {"left_g": r, "loss_g": rng.choice(amounts)}]))
            elif kind == "discard": a = api.call("POST", p, {"reason": "x"})
            elif kind == "checks": a = api.call("POST", f"/v1/scales/{rng.choice([bench.scale, fine])}/checks", {"weight": "W", "nominal_g": 500, "reading_g": rng.choice([500, 500, 499]), "limit_g": 0.1})
            elif kind == "get": a = api.call("GET", f"/v1/mixes/{mix}")
            elif kind == "film": a = api.call("GET", f"/v1/mixes/{mix}/film-clock?temperature_c={rng.choice([-20, 20, 200, 'nan', '1e400', ''])}")
            elif kind == "avail": a = api.call("GET", f"/v1/availability?system={rng.choice([1,2,3])}&hardener={bench.slow}&mass_g={r}")
            elif kind == "plan": a = api.call("POST", "/v1/mix-plans", {"system": rng.choice([bench.system, tiny["id"], big["id"]]), "hardener": bench.slow, "need_g": r or 1, "wet_out_rate_g_min": rng.choice([0.01, 10, 100000]), "temperature_c": rng.choice([-20, 20, 200])})
            else: a = api.call("POST", p, {"hard": True} if kind == "cup-checks" else {})
        seen[(kind, a.status_code)] = seen.get((kind, a.status_code), 0) + 1
        assert a.status_code < 500, (kind, a.get_data(as_text=True))
        if mixes and n % 3 == 0:
            g = api.call("GET", f"/v1/mixes/{rng.choice(mixes)}")
            assert g.status_code == 200, g.get_data(as_text=True)
    print(sorted(seen.items()))
    from service.operations.checking import check_account
    from service.database import connected
    with connected():
        c = check_account()
        assert c.agrees, c.first
