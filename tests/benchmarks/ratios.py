"""How long answers take, as ratios: `python -m tests.benchmarks.ratios` prints the table.

Each answer is compared with hand-written SQL by the bare driver and a JSON dump (`yardsticks.py`), and with itself on
the smallest account (growth); of reads also by what the engine itself counts (`effort.py`). Ratios are of processor
time, on PostgreSQL that of its server's processes counted in, so that what else the machine does is left out; the
clock's time stands beside them. The yardstick of a paper is the page engine alone on the same page.
The paper of an investigation takes some 1.1 times that on the demo, where 160 parts are compared, 1.25 where a thousand
are, and about 1.3 where two thousand are, in an account of 100,000: what they were made of is read, and their failures
dealt out anew thousands of times, before there is a page.

Reads go through the whole service, over Flask's own client; `start` and `pour` are the acts without HTTP and without
the wait for the disk, since they are taken back, and their yardstick is the same writes again. Times are the best of
several runs, one of the service and one of the yardstick in turn: what else the machine does only ever adds. Accounts
are kept in a folder with the demo that they are grown from, until the schema has another step.
"""

import argparse
import gc
import json
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from schemas.words import Kind, MaterialKind, Purpose, ReadingSource, Role
from service.app import create_app
from service.config import Settings
from service.database import connected, database, on_postgresql, open_database, reading, rows_of
from service.demo.keeping import prepare
from service.operations.door import founding
from service.operations.door.act import Act
from service.operations.door.shop import the_site
from service.operations.pots.pouring import pour
from service.operations.pots.starting import start_mix
from service.operations.stock.picking import fit_containers
from service.reports.drawing.paper import pages, report_html
from service.reports.investigation import investigate
from tests.benchmarks.effort import effort
from tests.benchmarks.engines import create_database, postgresql
from tests.benchmarks.grow import build, measure_a_place
from tests.benchmarks.yardsticks import Yardstick
from tests.forging import say

_A_YEAR = 52_560


@dataclass(frozen=True, slots=True)
class Line:
    """One answer on one account: milliseconds by the clock and for the ratios, the yardstick's, how large it is.

    ``effort`` is what the engine itself counts (effort.py), of reads: the same each time, whatever the machine does.
    """

    what: str
    ms: float
    counted: float
    raw: float | None
    size: str
    effort: int | None = None


@dataclass(frozen=True, slots=True)
class Codes:
    """What is asked for in an account."""

    part: str
    thousand: str
    big: str
    resin: str
    hardener: str
    material: int
    scale: str
    system: int


def _codes(part: str) -> Codes:
    def one(sql: str, *values: Any) -> Any:
        return rows_of(sql, *values)[0][0]

    lot = (
        "SELECT i.code FROM item i JOIN lot l ON l.item_id = i.id JOIN material m ON m.id = l.material_id"
        " WHERE m.kind = ? ORDER BY (SELECT count(*) FROM container c WHERE c.lot_id = i.id) DESC LIMIT 1"
    )
    can = (
        "SELECT i.code FROM item i JOIN container c ON c.item_id = i.id JOIN material m ON m.id = c.material_id"
        " WHERE m.kind = ? AND i.state IN ('sealed', 'open') AND i.balance > 0"
        " ORDER BY i.state DESC, i.balance DESC LIMIT 1"
    )
    return Codes(
        part=part,
        thousand=one(lot, MaterialKind.FABRIC),
        big=one(lot, MaterialKind.RESIN),
        resin=one(can, MaterialKind.RESIN),
        hardener=one(can, MaterialKind.HARDENER),
        material=one("SELECT id FROM material WHERE kind = ?", MaterialKind.RESIN),
        scale=one("SELECT code FROM item WHERE kind = ?", Kind.SCALE),
        system=one(
            "SELECT s.id FROM resin_system s JOIN material m ON m.id = s.resin_id WHERE m.kind = ?", MaterialKind.RESIN
        ),
    )


def _best(runs: int, ours: Callable[[], Any], raw: Callable[[], Any] | None) -> tuple[float, float, float | None]:
    """By the clock, and for the ratios the service's time and the yardstick's, each the best of so many runs."""
    ms, counted, yardstick = float("inf"), float("inf"), float("inf")
    for _ in range(runs):
        took, spent = _timed(ours)
        ms, counted = min(ms, took), min(counted, spent)
        if raw is not None:
            yardstick = min(yardstick, _timed(raw)[1])
    return ms, counted, None if raw is None else yardstick


def _timed(call: Callable[[], Any]) -> tuple[float, float]:
    """Milliseconds by the clock, and those that ratios are made of."""
    served = _served_ms()
    begin, began = time.perf_counter(), time.process_time()
    call()
    took, spent = (time.perf_counter() - begin) * 1000, (time.process_time() - began) * 1000
    return took, spent + _served_ms() - served


@cache
def _postmaster() -> str:
    """The number of the process from which those that serve were forked."""
    with connected():
        (backend,) = rows_of("SELECT pg_backend_pid()")[0]
    return Path(f"/proc/{backend}/stat").read_text().rpartition(")")[2].split()[1]


def _served_ms() -> float:
    """Processor time so far of those processes of the PostgreSQL server that serve somebody (Linux)."""
    if not on_postgresql():
        return 0.0
    served, server = 0, _postmaster()
    for process in Path(f"/proc/{server}/task/{server}/children").read_text().split():
        with suppress(OSError):  # it has ended meanwhile
            if b"potmark" in Path(f"/proc/{process}/cmdline").read_bytes():
                served += int(Path(f"/proc/{process}/schedstat").read_text().split()[0])
    return served / 1_000_000


def measure(url: str, told: dict[str, Any], *, at: datetime, runs: int) -> Iterator[Line]:
    """All answers of one account."""
    app = create_app(Settings(database=url), clock=lambda: at)
    client, yardstick = app.test_client(), Yardstick(url)
    # As a process that serves does: what is loaded by now is not looked over for garbage.
    gc.collect()
    gc.freeze()
    with connected():
        codes = _codes(told["failed_part"])

    def get(path: str, **headers: str) -> bytes:
        answer = client.get(path, headers={"Authorization": f"Bearer {told['keys']['quality']}", **headers})
        assert answer.status_code == 200, answer.get_data(as_text=True)
        return bytes(answer.get_data())

    def line(what: str, path: str, raw: Callable[[], Any] | None, times: int = runs, **headers: str) -> Line:
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        get(path, **sent)
        with effort() as spent:
            size = len(get(path, **sent))
        return Line(what, *_best(times, lambda: get(path, **sent), raw), f"{size:,} bytes", spent.spent)

    few = max(2, runs // 3)
    thousand, big = (
        f"/v1/items/{codes.thousand}/trace?direction=forward",
        f"/v1/items/{codes.big}/trace?direction=forward",
    )
    yield line("trace forward, 1,000 parts", thousand, lambda: yardstick.trace(codes.thousand, back=False))
    whole = lambda: yardstick.trace(codes.big, back=False)  # noqa: E731
    totals = json.loads(get(big))["totals"]
    streamed = line("trace forward, the large lot, as lines", big, whole, few, Accept="application/x-ndjson")
    yield replace(streamed, size=f"{totals['items']:,} items, {totals['movements']:,} movements")
    yield line("trace forward, the large lot, first 5,000 rows", big, None, few)
    back = f"/v1/items/{codes.part}/trace"
    yield line("trace back from a part", back, lambda: yardstick.trace(codes.part, back=True))
    yield line("container scan", f"/v1/containers/{codes.resin}", lambda: yardstick.container(codes.resin))
    for name, kind in (("parts", "P"), ("mixes", "M"), ("containers", "C")):
        yield line(f"list page of {name}", f"/v1/{name}?limit=50", lambda k=kind: yardstick.page(k))
    stock = f"/v1/availability?material={codes.material}"
    yield line("availability", stock, lambda: yardstick.availability(codes.material))
    yield line("investigation", f"/v1/parts/{codes.part}/investigation", None, few)
    page = _static_page(codes.part, at=at)
    yield line("investigation on paper", f"/v1/parts/{codes.part}/investigation.pdf", page)
    with connected():
        yield from _acts(codes, yardstick, at=at, runs=runs)


def _static_page(part: str, *, at: datetime) -> Callable[[], bytes]:
    """The yardstick of a paper: the page engine alone on the very page that it is handed."""
    with reading():
        report = investigate(part, at=at)
    html, stored = report_html("investigation.html", report, origin="https://potmark.example", at=at)
    return lambda: pages(html, stored, pdf_variant="pdf/a-3a")


def _acts(codes: Codes, yardstick: Yardstick, *, at: datetime, runs: int) -> Iterator[Line]:
    """A start and a pour, taken back each time."""
    person, site = rows_of("SELECT person_id, site_id FROM deed WHERE operation = 'start_mix' ORDER BY id LIMIT 1")[0]
    cans = [{"container": codes.resin}, {"container": codes.hardener}]

    def act(late: int) -> Act:
        when = at + timedelta(seconds=late)
        return Act(person=person, roles=frozenset({Role.LAMINATOR}), site=site, occurred_at=when, recorded_at=when)

    def start() -> str:
        return start_mix(
            act(0), system=codes.system, purpose=Purpose.WET_OUT, containers=cans, scale=codes.scale, total_mg=400_000
        ).code

    def poured(mix: str) -> None:
        pour(
            act(30), mix=mix, container=codes.resin, scale=codes.scale, reading_mg=300_000, zeroed=True,
            source=ReadingSource.TYPED,
        )  # fmt: skip

    for what in ("start of a pot", "pour"):
        ms, counted, raw = float("inf"), float("inf"), float("inf")
        for _ in range(runs):
            with _taken_back():
                mix = start() if what == "pour" else ""
                with _heard() as statements:
                    took, spent = _timed(lambda m=mix: poured(m) if m else start())
            ms, counted = min(ms, took), min(counted, spent)
            writes = [s for s in statements if s[0].split(" ", 1)[0] in ("INSERT", "UPDATE")]
            # A pour's pot was taken back before its yardstick runs, so that updates of it find no row: less to do.
            raw = min(raw, _timed(lambda w=writes: yardstick.written(w))[1])
        yield Line(what, ms, counted, raw, f"{len(statements)} statements, {len(writes)} writes")


@contextmanager
def _taken_back() -> Iterator[None]:
    with database.atomic() as transaction:
        yield
        transaction.rollback()


@contextmanager
def _heard() -> Iterator[list[tuple[str, Any]]]:
    """The statements that are sent meanwhile."""
    heard: list[tuple[str, Any]] = []
    sent = database.obj.execute_sql

    def listening(sql: str, params: Any = None, *rest: Any) -> Any:
        heard.append((sql, params or ()))
        return sent(sql, params, *rest)

    database.obj.execute_sql = listening
    try:
        yield heard
    finally:
        del database.obj.execute_sql


def year_of_readings(url: str, *, at: datetime) -> tuple[float, float]:
    """Milliseconds that the stock of a material takes without and with a year of readings, one every ten minutes."""
    open_database(url)
    with connected(), _taken_back():
        site = the_site()
        place, material = rows_of(
            "SELECT i.place_id, c.material_id FROM item i JOIN container c ON c.item_id = i.id"
            " WHERE i.balance > 0 AND i.place_id IS NOT NULL GROUP BY i.place_id, c.material_id"
            " ORDER BY count(*) DESC LIMIT 1"
        )[0]
        say(f"UPDATE material SET storage_low_c = 10, storage_high_c = 30 WHERE id = {material}")
        _, before, _ = _best(9, lambda: fit_containers(material, at=at, site=site), None)
        name = rows_of("SELECT name FROM item WHERE id = ?", place)[0][0]
        measure_a_place(name, until=at, readings=_A_YEAR)
        _, after, _ = _best(9, lambda: fit_containers(material, at=at, site=site), None)
    return before, after


def stream_memory_mb(url: str, told: dict[str, Any], *, at: datetime) -> tuple[float, float]:
    """The large lot's trace as lines: how much memory the process had before, and at most while it was sent (Linux)."""
    app = create_app(Settings(database=url), clock=lambda: at)
    with connected():
        big = _codes(told["failed_part"]).big
    headers = {"Authorization": f"Bearer {told['keys']['quality']}", "Accept": "application/x-ndjson"}
    answer = app.test_client().get(f"/v1/items/{big}/trace?direction=forward", headers=headers)
    Path("/proc/self/clear_refs").write_text("5")
    before = _memory_mb("VmRSS")
    for _ in answer.iter_encoded():
        pass
    return before, _memory_mb("VmHWM")


def _memory_mb(name: str) -> float:
    said = next(r for r in Path("/proc/self/status").read_text().splitlines() if r.startswith(name))
    return int(said.split()[1]) / 1024


def _account(url: str, parts: int, demo: Path) -> None:
    """Grow what is missing. One that was interrupted is used as large as it is."""
    open_database(url)
    with connected():
        there = database.table_exists("item") and rows_of("SELECT count(*) FROM part")[0][0]
    if not there:
        build(url, parts=parts, demo=demo, bound=False, progress=_remark)


def _remark(said: str) -> None:
    print(f"# {said}", flush=True)


def _demo(folder: Path) -> dict[str, Any]:
    """What is told of the demo in the folder; one of another schema goes, with all that was grown from it.

    A large account takes as long to upgrade as to grow anew, and its keys are those of its demo.
    """
    kept = folder / "demo"
    if (kept / "potmark.db").exists():
        open_database(f"sqlite:///{kept}/potmark.db")
        with connected():
            changed = founding.pending_steps() or founding.unknown_steps()
        database.close_all()
        if changed:
            _remark("the schema has changed since: everything is grown anew")
            shutil.rmtree(folder)
    folder.mkdir(parents=True, exist_ok=True)
    return prepare(kept, fresh=False, progress=_remark).told


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.ratios", description=__doc__)
    parser.add_argument("--sizes", default="1000,10000,100000", help="how many parts each account has")
    parser.add_argument("--engines", default="sqlite,postgresql")
    parser.add_argument("--folder", default=".benchmarks", type=Path, help="where the accounts are kept (.benchmarks)")
    parser.add_argument("--runs", default=9, type=int)
    asked = parser.parse_args()
    folder = asked.folder.resolve()
    told = _demo(folder)
    sizes = [int(size) for size in asked.sizes.split(",")]
    if "sqlite" in asked.engines:
        _table("SQLite", {size: f"sqlite:///{folder}/parts_{size}.db" for size in sizes}, told, asked)
    if "postgresql" in asked.engines:
        with postgresql(folder / "postgresql") as home:
            _table("PostgreSQL", {size: create_database(home, f"parts_{size}") for size in sizes}, told, asked)


def _table(engine: str, urls: dict[int, str], told: dict[str, Any], asked: argparse.Namespace) -> None:
    smallest: dict[str, float] = {}
    least: dict[str, int] = {}
    for size, url in urls.items():
        _account(url, size, asked.folder / "demo")
        with connected():
            parts, last = rows_of("SELECT count(*) FROM part")[0][0], rows_of("SELECT max(occurred_at) FROM deed")[0][0]
        at = datetime.fromtimestamp(last // 1_000_000, UTC) + timedelta(minutes=5)
        heads = "".join(f"{head:>9}" for head in ("ms", "counted", "× raw", "× least", "× effort"))
        print(f"\n{engine}, {parts:,} parts\n{'':48}{heads}  size", flush=True)
        for line in measure(url, told, at=at, runs=asked.runs):
            smallest.setdefault(line.what, line.counted)
            raw = "" if line.raw is None else f"{line.counted / line.raw:.2f}"
            growth = f"{line.counted / smallest[line.what]:.2f}"
            spent = "" if not line.effort else f"{line.effort / least.setdefault(line.what, line.effort):.2f}"
            timed = f"{line.ms:9.1f}{line.counted:9.1f}{raw:>9}{growth:>9}"
            print(f"{line.what:48}{timed}{spent:>9}  {line.size}", flush=True)
        before, after = year_of_readings(url, at=at)
        print(f"stock with a year of readings: {after:.1f} ms, × {after / before:.2f} of the same without", flush=True)
        before, most = stream_memory_mb(url, told, at=at)
        print(f"memory while the large lot is sent as lines: {before:.0f} MB before, {most:.0f} MB at most", flush=True)
        database.close_all()


if __name__ == "__main__":
    main()
