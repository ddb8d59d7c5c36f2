"""A stranger's program: a client that a generator makes of the description, used on a real server.

The generator knows nothing of us. What it makes lists parts, starts one, follows it, and fetches its record on paper.
"""

import importlib
import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from labels.codes import make, next_usable
from service.api.imports import WORKBOOK
from tests import makers
from tests.api.description import document
from tests.conftest import Api
from tests.journeys.test_kill import Plug, plug
from tests.order_system.running import PACKAGE, generate, run

__all__ = ["plug"]


@pytest.fixture(scope="module")
def generated(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The package that openapi-python-client makes; with what it could not make of the description."""
    folder = tmp_path_factory.mktemp("client")
    said = generate(folder)
    sys.path.insert(0, str(folder))
    yield SimpleNamespace(said=said, folder=folder / PACKAGE, module=_module)
    sys.path.remove(str(folder))
    for name in [name for name in sys.modules if name.partition(".")[0] == PACKAGE]:
        del sys.modules[name]


def _module(name: str) -> Any:
    return importlib.import_module(f"{PACKAGE}.{name}")


def test_the_generator_makes_a_function_of_every_route(generated: Any) -> None:
    routes = {
        route["operationId"] for methods in document()["paths"].values() for route in methods.values()
        if isinstance(route, dict)
    }  # fmt: skip
    made = {file.stem for file in (generated.folder / "api").glob("*/*.py")} - {"__init__"}
    assert routes == made
    # A file may be sent as text/csv or a workbook too, which this generator has no names for; nothing else is left out.
    left_out = {line for line in generated.said.splitlines() if "nsupported" in line}
    assert left_out <= {f"Unsupported content type {kind}" for kind in ("text/csv", WORKBOOK)}


def test_a_generated_client_lists_starts_and_follows_a_part_and_fetches_its_record(
    api: Api, plug: Plug, generated: Any
) -> None:
    makers.supplier(api)
    design = makers.design(api)
    mould = makers.released_mould(api, makers.place(api))["code"]
    earlier = makers.started_part(api, need_g=None)
    plug.start()
    call = {name: _module(f"api.parts.{name}") for name in ("list_parts", "start_part", "read_part")}
    paper = _module("api.reports.print_part_record")
    models, types = _module("models"), _module("types")
    client = _module("client").AuthenticatedClient(f"http://127.0.0.1:{plug.port}", api.shop.keys["laminator"])
    with client:
        asked = models.PartIn(part_number=design["part_number"], mould=mould, order="4471")
        started = call["start_part"].sync(client=client, body=asked, idempotency_key="one")
        assert isinstance(started, models.PartOut)
        assert started.state is models.PartState.LAYING
        again = call["start_part"].sync(client=client, body=asked, idempotency_key="one")
        assert again == started

        listed = call["list_parts"].sync(client=client, state=models.PartState.LAYING)
        assert [part.code for part in listed] == [earlier, started.code]
        assert listed[1].order == "4471"

        followed = call["read_part"].sync(started.code, client=client)
        assert followed == started
        assert followed.mould == mould
        assert followed.laid_up_at is None

        record = paper.sync(started.code, client=client)
        assert isinstance(record, types.File)
        assert record.payload.read().startswith(b"%PDF-")

        problem = call["read_part"].sync(make("P", next_usable("P", 90_000)), client=client)
        assert isinstance(problem, models.Problem)
        assert problem.status == 404
        assert problem.way_out


def test_an_order_system_on_a_bad_line_against_servers_that_are_killed_loses_and_doubles_no_part(
    api: Api, plug: Plug, generated: Any, tmp_path: Path
) -> None:
    """Some lines of it; `python -m tests.order_system` sends 500 on each engine."""
    told = run(api, plug, tmp_path, generated.folder.parent, lines=8, seed=5, kill_each_s=6, within_s=300)
    assert told.wrong == []
    assert told.parts >= 8
    assert told.servers_killed + told.clients_killed >= 1, "the plug was pulled on one of them"
    assert {"lost", "unheard", "doubled", "overtaken"} <= set(told.met), told.met
