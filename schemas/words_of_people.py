"""The words of who may do what; words.py names them with all others."""

from enum import StrEnum


class Scope(StrEnum):
    """What a system's key opens."""

    GOODS_IN = "goods in"
    REGISTERS = "registers"
    ORDERS = "orders"
    SHIPPING = "shipping"
    MEASURING = "measuring"
    READING = "reading"
    COSTS = "costs"
