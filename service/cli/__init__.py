"""The `potmark` command: found an account, serve it, look after its keys, check it, bring it up to date.

Nothing is asked interactively. What goes wrong foreseeably is one sentence on the error output and status 2. A new
command is a function under `@click.command(cls=Command)` in the file of its subject, listed here or in its group; its
docstring is its help.
"""

import os
import sys
from collections.abc import Sequence

import click
from peewee import DatabaseError, InterfaceError, OperationalError

from service import opening
from service.cli import access, account, archive, delivering, drill, network, running, scale, sealing, signer
from service.cli.asking import DONE, REFUSED
from service.config import MEANING, Settings, WrongSetting
from service.opening import Trouble
from service.operations.door.refusals import Refusal


class _Root(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Settings, from the environment"):
            formatter.write_dl(list(MEANING.items()))


@click.group(cls=_Root, no_args_is_help=False)
@click.version_option(package_name="potmark", message="%(package)s %(version)s")
def potmark() -> None:
    """Keeps a composites workshop's account of what went into what, and serves it over HTTP.

    To look around in an invented workshop, without founding anything:

    \b
      potmark demo --serve

    The first steps of a shop of one's own:

    \b
      potmark init --site "Heron Yard" --zone Europe/Copenhagen --administrator "Ada Lund"
      potmark people add "Ida Holm" --role laminator
      potmark keys add --person "Ida Holm"
      potmark serve
    """


for one in (
    account.init, access.people, access.keys, running.serve, running.demo, network.certificate, account.check,
    account.upgrade, archive.export, archive.take_in, sealing.seal, sealing.restored, drill.drill, signer.signer,
    signer.verify, scale.scale, delivering.deliver,
):  # fmt: skip
    potmark.add_command(one)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the number is the exit status."""
    os.umask(0o077)  # an account and its keys are for the service's own user
    asked = list(sys.argv[1:] if arguments is None else arguments)
    settings = Settings()
    try:
        with potmark.make_context("potmark", asked, obj=settings) as ctx:
            try:
                return potmark.invoke(ctx) or DONE
            finally:
                settings = ctx.obj
    except click.exceptions.Exit as done:
        return done.exit_code
    except click.UsageError as error:
        path = error.ctx.command_path if error.ctx is not None else "potmark"
        said = " ".join(error.format_message().split()).rstrip(".?")
        return _say(f"{said}; `{path} --help` says more.")
    except (WrongSetting, Trouble, Refusal) as trouble:
        return _say(str(trouble))
    except (OperationalError, InterfaceError) as error:
        return _say(opening.in_words(error, settings))
    except DatabaseError as error:
        if type(error) is not DatabaseError:
            raise  # a statement of ours is wrong, which is not foreseeable
        return _say(opening.in_words(error, settings))
    except BrokenPipeError:
        # Whoever read our output has gone; let Python's own last flush go nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return REFUSED
    except KeyboardInterrupt:
        return 130


def _say(sentence: str) -> int:
    print(f"potmark: {sentence}", file=sys.stderr)
    return REFUSED
