"""Words of tables that are taken in; schemas.words gives them out."""

from enum import StrEnum


class ImportedTable(StrEnum):
    """What can be taken in from a spreadsheet."""

    SUPPLIERS = "suppliers"
    MATERIALS = "materials"
    LOTS = "lots"
    OPENING_STOCK = "opening-stock"
    DESIGNS = "designs"
    ORDERS = "orders"


class RowFate(StrEnum):
    """What becomes of a row of a table that is taken in."""

    NEW = "new"
    REFUSED = "refused"
    THERE = "there already"
