"""The nine GHS pictograms, drawn for this project after the model symbols of the UN GHS, Annex 1.

Coordinates: the square set on its point has its corners at ±50, y downwards. Drawings are black with white cut-outs,
coarse enough for a 203 dpi printer. The frame is drawn in black, or left out where the stock has red frames on it.
"""

from dataclasses import dataclass

FRAME = '<path d="M0-47L47 0 0 47-47 0Z" fill="#fff" stroke="#000" stroke-width="4.2" stroke-linejoin="miter"/>'


@dataclass(frozen=True)
class Pictogram:
    """A symbol: the name that the UN GHS gives it, and its drawing."""

    name: str
    drawing: str


_EXPLODING_BOMB = (
    '<circle cx="-3" cy="9" r="11.5"/>'
    '<path fill="#fff" d="M-9-6L-5.5 3-1.5-1 .2 6 4.5 3.4 4.6 9.5 13 7.5 13-8Z"/>'
    '<path d="M-1.2-5L-4.6-33 3.4-10ZM3.5-2L17-23 8.6 1.4ZM8 5.2L30.5-4 11 10.5ZM9.6 13L27 14.5 8 17.6Z'
    'M-7-6.5L-18.5-20.5-11.6-3.6ZM-15 1.5L-30.5-4.6-17 6ZM-16.6 12.6L-26 16.2-14.4 16.6Z"/>'
    '<path d="M6.6-22.5L9.8-27 11.2-22.6ZM18.5-9.5L23.5-13.5 22-8ZM-13.2-23L-10.6-18.4-9.8-23.4Z'
    'M-24.5-11.5L-20-10-22.6-6.8ZM17.6 5.4L21.8 4.4 20.4 8.6ZM14 20.5L18.6 20 15.4 23.6Z"/>'
)

_FLAME = (
    '<path d="M-4.5 17.5C-15.5 15-21 5.5-17.4-6-16.4-2.4-14.6-.4-11.8.6-14-10-8.6-16.6-4.4-21.4-1.4-25-.8-29-2.6-34.5'
    " 6.4-29.8 10-22 8.8-13.6 10.6-15.6 11.4-18.4 11.2-21.4 17-14.6 20.2-5 18.2 3.6 16.4 11 11.4 16.2 4.6 17.5 9.4 13.4"
    ' 10.2 7.4 7 2.2 6.2 5 4.4 6.4 2.2 6.6 3.2.6 1-4.2-2.4-7.4-2.6-2-8.6 2-8.6 8.6-8.6 12.6-7 15.4-4.5 17.5Z"/>'
    '<path d="M-19 21H19V24.6H-19Z"/>'
)

_FLAME_OVER_CIRCLE = (
    '<path fill-rule="evenodd" d="M-12.6 11a12.6 12.6 0 1 0 25.2 0a12.6 12.6 0 1 0-25.2 0Z'
    'M-8 11a8 8 0 1 1 16 0a8 8 0 1 1-16 0Z"/>'
    '<path fill-rule="evenodd" d="M-11.2-.6C-16-7-15-13.6-12.2-18.4-11.8-14.4-10-12-7.4-10.8-9-18.6-4.6-24-2.4-27.6'
    "-1.2-29.8-.9-32-1.4-34.8 4.4-31 7-25.2 6.2-19 8-20.6 8.8-22.8 8.6-25.2 13.6-18.4 15.6-9 11.2-.6"
    "A16 16 0 0 0 4.6-4.3C6.4-7.4 6-11 3.6-13.6 3.2-12 2.2-11.2.8-11 1.4-14.4 0-17.2-2-19-2.2-15-6-12.6-5.8-8.6"
    '-5.7-6.8-5.2-5.4-4.6-4.3A16 16 0 0 0-11.2-.6Z"/>'
    '<path d="M-14 25.6H14V29.2H-14Z"/>'
)

_GAS_CYLINDER = (
    '<g transform="rotate(-28)">'
    '<path d="M-27-5.5C-27-7.6-25.4-9-23.4-9H11C16.6-9 19-6.6 21-3.4H24V-5.6H30V5.6H24V3.4H21C19 6.6 16.6 9 11 9H-23.4'
    'C-25.4 9-27 7.6-27 5.5Z"/>'
    '<path fill="#fff" d="M-22-5.4H11.5V-2.8H-22Z"/>'
    "</g>"
)

_TUBE = (
    '<path fill="#fff" stroke="#000" stroke-width="2.1" d="M0-4.3H17.6A4.3 4.3 0 0 1 17.6 4.3H0"/>'
    '<path d="M0-.6L15 1.2 20 4.2H0Z"/><path d="M-1.1-6.2H1.3V6.2H-1.1Z"/>'
)
_POURING = (
    f'<g transform="translate(-20.4 -12.6) rotate(-33)">{_TUBE}</g>'
    '<path d="M-21.8-7.4C-20.6-5.2-19.8-4.2-19.8-2.8A2 2 0 0 1-23.8-2.8C-23.8-4.2-23-5.2-21.8-7.4Z'
    'M-21.8.6C-20.6 2.8-19.8 3.8-19.8 5.2A2 2 0 0 1-23.8 5.2C-23.8 3.8-23 2.8-21.8.6Z"/>'
)
_CORROSION = (
    f'{_POURING}<g transform="scale(-1 1)">{_POURING}</g>'
    '<path d="M-29.6 9.4H-26.4L-24.4 13-22.4 11.2-20 14-17.4 9.4H-3V17.4H-25Z"/>'
    '<path d="M30.4 9.4L26.8 9.6 24.4 12.6 22.2 11.2 20 13.4 17.6 8.8C13.6 7.4 10.4 7.8 7.4 10.2L2.2 14.6'
    "C.8 16 1.8 18.2 4 17.6L8.6 16.2 3.4 20C1.8 21.6 3.2 23.6 5.2 22.8L10.4 20.4 7 23.6C5.8 25.2 7.4 26.8 9.2 25.8"
    'L17 20.8C18.6 20 20 19.4 21.6 19.2L24 18.8 30.4 12.2Z"/>'
)

_SKULL = (
    '<path d="M0-33C-11.4-33-17.4-25.6-16.6-16.8-16.2-12.4-13.6-9.6-9.8-8.2L-9-2.6C-8.6-.4 8.6-.4 9-2.6L9.8-8.2'
    'C13.6-9.6 16.2-12.4 16.6-16.8 17.4-25.6 11.4-33 0-33Z"/>'
    '<g fill="#fff"><ellipse cx="-7" cy="-16.6" rx="4.6" ry="4.2"/><ellipse cx="7" cy="-16.6" rx="4.6" ry="4.2"/>'
    '<path d="M0-13.4L-2.4-8.6H2.4ZM-5-6.2h1.5v4.6h-1.5ZM-.75-6.2h1.5v4.8h-1.5ZM3.5-6.2h1.5v4.6h-1.5Z"/></g>'
    '<g transform="scale(.9)"><path fill="none" stroke="#000" stroke-width="5.4" d="M-18 6L18 19.6M18 6L-18 19.6"/>'
    '<circle cx="-19.6" cy="3.4" r="3.5"/><circle cx="-21" cy="8.2" r="3.5"/>'
    '<circle cx="19.6" cy="3.4" r="3.5"/><circle cx="21" cy="8.2" r="3.5"/>'
    '<circle cx="-19.4" cy="22.4" r="3.5"/><circle cx="-21.2" cy="17.8" r="3.5"/>'
    '<circle cx="19.4" cy="22.4" r="3.5"/><circle cx="21.2" cy="17.8" r="3.5"/></g>'
)

_EXCLAMATION = (
    '<path d="M-6.6-24.5A6.6 6.6 0 0 1 6.6-24.5L3.9 7.6A3.9 3.9 0 0 1-3.9 7.6Z"/><circle cx="0" cy="20.6" r="5.8"/>'
)

_HEALTH = (
    '<ellipse cx="0" cy="-24" rx="7.6" ry="9"/>'
    '<path d="M-6.4-13.6C-3-11.4 3-11.4 6.4-13.6L8-12.2C17-10 20.6-5.4 20.6 4V18H-20.6V4C-20.6-5.4-17-10-8-12.2Z"/>'
    '<path fill="#fff" d="M.6-10.4L3-1.4 12.4-5 6.6 3'
    ' 14.4 9.4 4.6 8.6 1.4 16.4-2.2 8.8-11.8 12.6-6.4 4.4-14.4-1.2-4.4-1.2Z"/>'
)

_ENVIRONMENT = (
    '<g transform="translate(-.4 .6) scale(.93)">'
    '<g fill="none" stroke="#000" stroke-linecap="round">'
    '<path stroke-width="4" d="M-10.4 13C-9.4 3-9.8-6-9-16"/>'
    '<path stroke-width="2.4" d="M-9-15L-6-31M-9.6-3L-21.4-16.4M-9.4 1L1.4-11.6M-17-11.4L-25-12.4M-16-10.4L-16.6-21'
    'M-8.4-19L-13.6-27M-3.4-6L6.4-9M-2-8L-2-19"/></g>'
    '<path d="M-28 14.6C-22 13-18 10.6-10 10.6C-3 10.6 0 11.6 4 14.6L0 17.8H-24.6Z"/>'
    '<path fill="#fff" stroke="#fff" stroke-width="2.4" d="M-3 12.4C2.4 4.6 12.4 3.6 19.4 9.6L27 5 26.4 16.4 19.6 13.4'
    'C12.6 20 2.8 19.6-3 12.4Z"/>'
    '<path d="M-3 12.4C2.4 4.6 12.4 3.6 19.4 9.6L27 5 26.4 16.4 19.6 13.4C12.6 20 2.8 19.6-3 12.4Z"/>'
    '<path fill="#fff" d="M1.7 10.9a1.5 1.5 0 1 0 3 0a1.5 1.5 0 1 0-3 0ZM8 7.8C9.6 10.6 9.6 13.8 8 16.6L7 16.2'
    'C8.4 13.6 8.4 10.8 7 8.2Z"/>'
    '<path d="M-20.4 21.4C-14 19.6-9 23.2-3 21.4S10 19.6 18.6 21.4'
    'L16 24.2C8 22.4 3.6 23.2-2 24.4S-10 22.4-17.4 24.2Z"/></g>'
)

PICTOGRAMS: dict[str, Pictogram] = {
    "GHS01": Pictogram("exploding bomb", _EXPLODING_BOMB),
    "GHS02": Pictogram("flame", _FLAME),
    "GHS03": Pictogram("flame over circle", _FLAME_OVER_CIRCLE),
    "GHS04": Pictogram("gas cylinder", _GAS_CYLINDER),
    "GHS05": Pictogram("corrosion", _CORROSION),
    "GHS06": Pictogram("skull and crossbones", _SKULL),
    "GHS07": Pictogram("exclamation mark", _EXCLAMATION),
    "GHS08": Pictogram("health hazard", _HEALTH),
    "GHS09": Pictogram("environment", _ENVIRONMENT),
}
