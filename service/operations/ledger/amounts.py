"""Amounts of the account in the words in which people are told of them: every digit that the book has, and no more."""

from schemas.words import MaterialKind, Unit

_SIGN = {Unit.MILLIGRAM: "g", Unit.MILLIMETRE: "m"}


def grams(mg: int) -> str:
    """Milligrams as grams.

    >>> grams(12_500), grams(1_234_567_890), grams(500_000)
    ('12.5 g', '1234567.89 g', '500 g')
    """
    return said(mg, Unit.MILLIGRAM)


def said(amount: int, unit: str) -> str:
    """An amount with its unit: masses in grams, lengths in metres, pieces as they are counted.

    >>> said(1250, Unit.MILLIGRAM), said(1500, Unit.MILLIMETRE), said(3, Unit.PIECE), said(1, Unit.PIECE)
    ('1.25 g', '1.5 m', '3 pieces', '1 piece')
    """
    if unit == Unit.PIECE:
        return f"{amount} piece{'' if amount == 1 else 's'}"
    return f"{f'{amount / 1000:.3f}'.rstrip('0').rstrip('.')} {_SIGN[Unit(unit)]}"


def counted_in(kind: MaterialKind | str) -> Unit:
    """What is counted of a material that is planned, reserved or expected: cloth by its length, all else by mass."""
    return Unit.MILLIMETRE if kind == MaterialKind.FABRIC else Unit.MILLIGRAM
