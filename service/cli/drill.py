"""The command that tries a recall out: how long the answer takes, how far it reaches, what nobody can explain."""

import json
from dataclasses import asdict

import click

from service import opening
from service.cli.asking import DIFFERS, DONE, Command, machines_act
from service.config import Settings
from service.database import connected
from service.operations.ledger.amounts import said
from service.operations.ledger.drilling import Drill
from service.operations.ledger.recalling import keep_drill


@click.command(cls=Command)
@click.option("--seed", type=int, default=1, show_default=True, help="Picks the lot; the same seed, the same lot.")
@click.option("--lot", help="Try this lot instead, by its code.")
@click.option("--json", "as_json", is_flag=True, help="Say it as JSON.")
@click.pass_obj
def drill(settings: Settings, seed: int, lot: str | None, as_json: bool) -> int:
    """Try out a recall of one lot, and keep what it found.

    Nothing is put on hold. Printed are the minutes that the answer took, how far it reaches, and the grams that nobody
    can explain. Status 1 says that the account itself does not add up.
    """
    opening.open_account(settings)
    with connected():
        found = keep_drill(machines_act(), seed=seed, lot=lot)
    if as_json:
        print(json.dumps(asdict(found), default=str))
    else:
        print(_said(found))
    return DIFFERS if found.balance.difference else DONE


def _said(found: Drill) -> str:
    balance = found.balance
    to = f" to {', '.join(found.customers)}" if found.customers else ""
    lines = [
        f"Drill of lot {found.lot}, {found.name} (seed {found.seed}), kept as document {found.document}.",
        f"The answer took {found.seconds / 60:.4f} min.",
        f"It reaches {found.pieces} pieces, of which {found.to_find} are still to be found: {found.parts} parts, "
        f"{found.shipped} of them shipped{to}. {found.spared} parts are proved to be spared by other lots.",
        f"Of {said(balance.came, balance.unit)} that came, {said(balance.used, balance.unit)} went into pots, "
        f"kits and parts, {said(balance.thrown_away, balance.unit)} were scrapped or lost, "
        f"{said(balance.left, balance.unit)} are left.",
        f"{said(balance.unexplained, balance.unit)} nobody can explain: found more or less than booked.",
    ]
    if balance.difference:
        lines.append(f"The account does not add up by {said(balance.difference, balance.unit)}: run `potmark check`.")
    return "\n".join(lines)
