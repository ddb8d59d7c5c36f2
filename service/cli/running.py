"""Commands that serve: the shop's own account, or the invented workshop's."""

import json
from pathlib import Path
from threading import Thread

import click

from service import opening, reach, serving
from service.cli.asking import DONE, Command, note
from service.config import Settings


@click.command(cls=Command)
@click.pass_obj
def serve(settings: Settings) -> int:
    """Serve the account over HTTP until SIGTERM or Ctrl-C."""
    opening.open_account(settings)
    opening.stay_with(settings)
    serving.check_address(settings.bind)

    def ready() -> None:
        note(f"Potmark answers at {serving.address(settings)} (Ctrl-C stops it).")
        _warn(settings)

    serving.serve(settings, ready=ready)
    return DONE


def _warn(settings: Settings) -> None:
    """Before the first label is printed: say why a phone would not open its code. Asked aside, since we answer it."""

    def look() -> None:
        doubt = reach.doubt(settings.address)
        if doubt is not None:
            note(doubt)

    Thread(target=look, daemon=True).start()


@click.command(cls=Command)
@click.option("--serve", "and_serve", is_flag=True, help="Serve it as well, until Ctrl-C.")
@click.option("--fresh", is_flag=True, help="Begin again instead of keeping what is there.")
@click.option("--json", "as_json", is_flag=True, help="Print keys and links as one JSON object.")
@click.option("--folder", metavar="FOLDER", help="Where it is kept; .demo, or .demo-polyester.")
@click.option(
    "--story", type=click.Choice(["epoxy", "polyester"]), default="epoxy", show_default=True, help="Which one is told."
)
@click.pass_obj
def demo(settings: Settings, and_serve: bool, fresh: bool, as_json: bool, folder: str | None, story: str) -> int:
    """Build an invented workshop and say how to enter it.

    It lies in a folder of its own, apart from any real account.
    """
    from service.demo import keeping

    if and_serve:
        serving.check_address(settings.bind)
    kept_in = Path(folder or (".demo" if story == "epoxy" else f".demo-{story}"))
    workshop = keeping.prepare(kept_in, fresh=fresh, progress=note, story=story)

    def show() -> None:
        told = workshop.described(settings.address)
        print(json.dumps(told, ensure_ascii=False) if as_json else keeping.in_words(told, served=and_serve), flush=True)

    if and_serve:
        serving.serve(workshop.settings(settings), ready=show)
    else:
        show()
    return DONE
