"""Two tablets and the last of a can: the reservation settles it, on both engines, with connections of their own."""

import threading
from typing import Any

import pytest

from service.database import connected
from service.operations.door.refusals import Refusal, ShortStock
from service.operations.ledger.checking import check_account
from service.operations.pots.starting import start_mix
from service.records.mixes import PlannedPour
from tests import makers


def _at_once(acts: list[Any]) -> list[Any]:
    """Run acts in threads that start together; each answers with its result or its refusal."""
    results: list[Any] = [None] * len(acts)
    together = threading.Barrier(len(acts))

    def run(index: int) -> None:
        together.wait()
        with connected():
            try:
                results[index] = acts[index]()
            except Refusal as refusal:
                results[index] = refusal

    threads = [threading.Thread(target=run, args=(index,)) for index in range(len(acts))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return results


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def _start(bench: makers.Mixing, can: str, who: str, total_mg: int) -> Any:
    act = bench.api.shop.act(who)
    return start_mix(
        act,
        system=bench.system,
        hardener=bench.slow,
        purpose="wet-out",
        total_mg=total_mg,
        containers=[{"container": can}, {"container": bench.slow_can}],
        scale=bench.scale,
    )


def test_two_starts_for_the_last_200_g_end_with_one_pot_and_one_short_of_stock(bench: makers.Mixing) -> None:
    can = makers.cans(bench.api, bench.resin, bench.place, "R-9", net_g=200)[0]
    people = ("laminator", "second laminator")
    results = _at_once([lambda who=who: _start(bench, can, who, 260_000) for who in people])
    started = [r for r in results if not isinstance(r, Refusal)]
    short = [r for r in results if isinstance(r, ShortStock)]
    assert (len(started), len(short)) == (1, 1)
    assert short[0].facts["left_g"] == 0
    assert short[0].facts["instead"] == [bench.resin_can]


def test_eight_starts_never_reserve_more_than_the_can_holds(bench: makers.Mixing) -> None:
    can = makers.cans(bench.api, bench.resin, bench.place, "R-9", net_g=500)[0]
    results = _at_once([lambda: _start(bench, can, "laminator", 130_000) for _ in range(8)])
    started = [r for r in results if not isinstance(r, Refusal)]
    assert len(started) == 5
    assert all(isinstance(r, ShortStock) for r in results if isinstance(r, Refusal))
    assert len({r.code for r in started}) == 5
    with connected():
        reserved = sum(p.amount_mg for p in PlannedPour.select() if p.component == "resin")
    assert reserved == 500_000
    assert check_account().differences == 0
