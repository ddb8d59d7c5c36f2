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
from service.reports.wording import plural


@click.command(cls=Command)
@click.option("--seed", type=int, default=1, show_default=True, help="Draws a lot.")
@click.option("--lot", help="Try this lot instead, by its code.")
@click.option("--json", "as_json", is_flag=True, help="Say it as JSON.")
@click.pass_obj
def drill(settings: Settings, seed: int, lot: str | None, as_json: bool) -> int:
    """Try out a recall of one lot, and keep what it found.

    The same seed draws the same of the same lots: of the released ones that reached a part, if there is one, else of
    all that are released. Nothing is put on hold. Printed are the minutes that the answer took,
    how far it reaches, and the grams that nobody can explain. Status 1 says that the account itself does not
    add up.
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

    def much(amount: int) -> str:
        return said(amount, balance.unit)

    to = f", to {', '.join(found.customers)}" if found.customers else ""
    chosen = f"drawn by seed {found.seed} from {found.drawn_from}" if found.drawn_from else "named"
    lines = [
        f"Drill of lot {found.lot}, {found.name} ({chosen}), kept as document {found.document}.",
        f"The answer took {found.seconds / 60:.4f} min.",
        f"It reaches {plural(found.pieces, 'piece')}, {found.to_find} of them still to be found, and among them "
        f"{plural(found.parts, 'part')}, {found.shipped} shipped{to}.",
        f"{plural(found.spared, 'part')} can be shown to be of other lots.",
        f"Of {much(balance.came)} that came, {much(balance.used)} went into pots, kits and parts, "
        f"{much(balance.thrown_away)} were scrapped or lost, {much(balance.left)} are left.",
    ]
    if balance.in_parts or balance.in_pots or balance.lost_in_pots:
        lines.append(
            f"Of what was used {much(balance.in_parts)} are in parts, {much(balance.in_pots)} in pots still, and "
            f"{much(balance.lost_in_pots)} were left in cups or lost, and weighed."
        )
    where = "found more or less than booked"
    if balance.missing_in_pots:
        in_cans = balance.unexplained - balance.missing_in_pots
        where = f"{much(balance.missing_in_pots)} that pots do not account for, {much(in_cans)} {where}"
    lines.append(f"{much(balance.unexplained)} nobody can explain: {where}.")
    if balance.difference:
        lines.append(f"The account does not add up by {much(balance.difference)}: run `potmark check`.")
    return "\n".join(lines)
