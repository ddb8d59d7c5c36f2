"""The command beside a tablet: it reads the port of a scale and hands each settled reading over to the service."""

import json
import secrets
import urllib.error
import urllib.request
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import click

from service.cli.asking import DONE, Command, note
from service.config import Settings
from service.opening import Trouble
from service.readings.scale_lines import LONGEST_LINE, read_line

# So long nothing comes after a line that a key on the scale has sent.
_QUIET_S = 1.0
_PATIENCE_S = 5.0


@click.command(cls=Command)
@click.option("--port", required=True, metavar="PORT", help="Where the scale is plugged in, such as /dev/ttyUSB0.")
@click.option("--scale", "code", required=True, metavar="CODE", help="The scale's code, as on its label.")
@click.option("--key-file", required=True, metavar="FILE", help="File with the access key it hands over with.")
@click.option("--address", metavar="URL", help="Where the service answers; POTMARK_ADDRESS if left out.")
@click.option("--baud", type=int, default=9600, show_default=True, help="Speed of the port.")
@click.pass_obj
def scale(settings: Settings, port: str, code: str, key_file: str, address: str | None, baud: int) -> int:
    """Hand the settled readings of a scale's port over, until Ctrl-C.

    How its lines are written is said with the scale (POST /v1/scales/CODE/line-format); most need nothing.
    """
    try:
        key = Path(key_file).read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise Trouble(f"--key-file: {key_file} cannot be read: {error}.") from None
    service = _Service((address or settings.address).rstrip("/"), code, key)
    line_format = service.line_format()
    opened = f"Reading {port} for {code}; settled readings go to {service.address} (Ctrl-C stops it)."
    hand_over(_lines(port, baud, opened), service.hand_over, line_format)
    return DONE


def hand_over(lines: Iterable[str | None], send: Callable[[str], bool], line_format: str | None) -> None:
    """Send each settled reading once: when it stands in two lines, or when the scale says no more after it.

    ``lines`` has nothing where it was quiet. What could not be sent is tried again while the display still shows it.
    """
    standing: tuple[int, str] | None = None
    sent = twice = False
    for line in lines:
        if line is not None:
            read = read_line(line, line_format)
            if read is None or not read.settled or read.mass_mg <= 0:
                standing = None
                continue
            twice = standing is not None and standing[0] == read.mass_mg
            sent = sent and twice
            standing = read.mass_mg, line
        if standing is not None and not sent and (twice or line is None):
            sent = send(standing[1])


def _lines(port: str, baud: int, opened_note: str) -> Iterator[str | None]:
    import serial

    try:
        with serial.Serial(port, baud, timeout=_QUIET_S) as opened:
            note(opened_note)
            while True:
                raw = opened.read_until(b"\n", LONGEST_LINE + 2)
                yield raw.decode("ascii", "replace").strip() if raw else None
    except serial.SerialException as error:
        raise Trouble(f"{port}: {error}") from None
    except KeyboardInterrupt:
        return


class _Service:
    """The service as it is asked from beside a scale."""

    def __init__(self, address: str, code: str, key: str) -> None:
        self.address, self._path = address, f"/v1/scales/{code}"
        self._headers = {"Authorization": f"Bearer {key}", "Content-Type": "application/json"}

    def line_format(self) -> str | None:
        try:
            found: str | None = self._ask(self._path)["line_format"]
            return found
        except urllib.error.HTTPError as refused:
            raise Trouble(f"{self.address} says: {_sentence(refused)}") from None
        except (OSError, ValueError, KeyError) as error:
            raise Trouble(f"No Potmark answers at {self.address}: {error}") from None

    def hand_over(self, line: str) -> bool:
        """Whether it need not be tried again."""
        try:
            kept = self._ask(f"{self._path}/readings", {"line": line})
            note(f"{kept['reading_g']:g} g")
        except urllib.error.HTTPError as refused:
            note(_sentence(refused))
            return refused.code < 500
        except (OSError, ValueError) as error:
            note(f"Not handed over: {error}")
            return False
        return True

    def _ask(self, path: str, body: dict[str, Any] | None = None) -> Any:
        data = None if body is None else json.dumps(body).encode()
        headers = self._headers if body is None else {**self._headers, "Idempotency-Key": secrets.token_urlsafe(16)}
        request = urllib.request.Request(self.address + path, data=data, headers=headers)
        with urllib.request.urlopen(request, timeout=_PATIENCE_S) as answer:
            return json.load(answer)


def _sentence(refused: urllib.error.HTTPError) -> str:
    try:
        return str(json.load(refused)["detail"])
    except (ValueError, KeyError):
        return f"status {refused.code}"
