"""A check of two hundred parts on many rolls and lots: as many statements as one of five, and it ends."""

import time

import pytest

from tests import makers
from tests.journeys.conftest import floor
from tests.journeys.floor import Floor
from tests.statements import statements

pytestmark = pytest.mark.sweep

__all__ = ["floor"]


def test_two_hundred_parts_take_no_more_statements_than_five_and_seconds_at_most(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    for number in range(20):
        day = f"2027-0{1 + number % 9}-15"
        makers.cans(api, bench.resin, bench.place, f"R-{number}x", net_g=5000, count=3, expires_on=day)
        makers.cans(api, bench.slow, bench.place, f"H-{number}x", net_g=2000, count=2, expires_on=day)
        length_mm = (9300, 12_700, 18_100, 6100, 25_000)[number % 5]
        makers.roll(api, floor.cloth, bench.place, f"F-{number}x", length_mm=length_mm)
    sizes = ((900, 400), (1200, 600), (700, 300))
    plies = [
        {"number": n, "material": floor.cloth, "angle_deg": 0, "area_m2": length * width / 1e6,
         "length_mm": length, "width_mm": width}
        for n, (length, width) in enumerate(sizes, 1)
    ]  # fmt: skip
    floor.design("HY-131", need_g=620, plies=plies)
    found = {}
    for quantity in (5, 50, 200):
        line = {"part_number": "HY-131", "quantity": quantity, "due_on": "2027-06-30"}
        body = {"lines": [line], "temperature_c": 20, "wet_out_rate_g_min": 50, "hardeners": [bench.slow]}
        api.post("/v1/build-checks", body, who="integrator", expect=200)
        before = time.process_time()
        with statements() as said:
            check = api.post("/v1/build-checks", body, who="integrator", expect=200)
        found[quantity] = (check["answer"], len(said), time.process_time() - before)
    answers, counts, seconds = zip(*found.values(), strict=True)
    # There is cloth for 200 or there is not: what was neither planned nor disproved is not said to be a no.
    assert answers == ("yes", "yes", "not shown")
    assert len(set(counts)) == 1, counts
    assert max(seconds) < 10, seconds
