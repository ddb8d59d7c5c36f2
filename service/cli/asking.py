"""What the commands share: how they are asked, in whose name they act, how they answer."""

import difflib
import sys
import zoneinfo
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime
from typing import Any

import click
from marshmallow import ValidationError

from schemas.fields import Text
from service.config import read_settings
from service.opening import Trouble
from service.operations.door import shop
from service.operations.door.act import Act, by_the_machine

DONE, DIFFERS, REFUSED = 0, 1, 2


class Command(click.Command):
    """A command whose function takes the settings first; they are read only once it is sure that it will run."""

    def invoke(self, ctx: click.Context) -> Any:
        ctx.obj = ctx.find_root().obj = read_settings()
        return super().invoke(ctx)


class Name(click.ParamType):
    """What a shop, a person or a program is called, by the rules of the API."""

    name = "name"

    def __init__(self, longest: int = 80) -> None:
        self.longest = longest

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        try:
            return str(Text(longest=self.longest).deserialize(value))
        except ValidationError as error:
            raise Trouble(f"{_option(param)}: {error.messages[0]}") from None


class Zone(click.ParamType):
    """A time zone of the IANA database."""

    name = "zone"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        known = zoneinfo.available_timezones()
        if value in known:
            return str(value)
        near = difflib.get_close_matches(value, sorted(known), n=3)
        raise Trouble(
            f"{_option(param)}: {value} is no time zone of the IANA database; "
            + (f"did you mean {' or '.join(near)}?" if near else "write it as in Europe/Copenhagen.")
        )


class Number(click.ParamType):
    """The number of a row, as a list shows it."""

    name = "number"

    def __init__(self, what: str) -> None:
        self.what = what

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        if isinstance(value, int):
            return value
        if not (value.isascii() and value.isdigit() and len(value) < 16):
            self.fail(f"{value} is not the number of a {self.what}", param, ctx)
        return int(value)


def _option(param: click.Parameter | None) -> str:
    if isinstance(param, click.Option):
        return max(param.opts, key=len)
    return param.make_metavar(click.Context(click.Command("potmark"))) if param is not None else "potmark"


def machines_act(*, recovering: bool = False) -> Act:
    """An act from the command line: in the name of the system that it is, whoever may run it; it signs nothing."""
    device = "command line, recovering" if recovering else "command line"
    return by_the_machine(shop.the_site().id, datetime.now(UTC), device=device)


def every(listing: Callable[..., Any]) -> list[Any]:
    """All rows of a list, page by page."""
    found: list[Any] = []
    after = None
    while True:
        page = listing(after=after, limit=200)
        found += page.rows
        if page.next_after is None:
            return found
        after = page.next_after


def note(sentence: str) -> None:
    """Say something to the reader without putting it into a pipe."""
    print(sentence, file=sys.stderr, flush=True)


def print_table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    lines = [heads, *rows]
    widths = [max(len(line[i]) for line in lines) for i in range(len(heads))]
    for line in lines:
        print("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip())
