"""A signed permit may be withdrawn; a release may last for several pulls; prepreg has a life out of the cold."""

from typing import Any

from peewee import BigIntegerField, Check, DoubleField, IntegerField, TextField

from service.migrations import steps

_DECISIONS = ("asked", "permitted", "refused")
_WITHDRAWN = ("withdrawn_by_id", "withdrawn_at", "withdrawn_in_id", "withdrawn_because")


def _together(columns: tuple[str, ...]) -> str:
    """Columns that are all there or all missing."""
    none, every = (" AND ".join(f"{c} IS {word}" for c in columns) for word in ("NULL", "NOT NULL"))
    return f"(({none}) OR ({every}))"


def up(migrator: Any, db: Any) -> None:
    _permits_may_end()
    _release_lasts_for_pulls()
    _life_out_of_the_cold()


def _life_out_of_the_cold() -> None:
    steps.add_column("material", "out_time", TextField(null=True))
    steps.add_table(
        "out_time_start",
        {
            "item": steps.row_of("item", primary_key=True),
            "since": BigIntegerField(),
            "tack_used": DoubleField(constraints=[Check("tack_used >= 0")]),
            "out_used": DoubleField(constraints=[Check("out_used >= 0")]),
            "deed": steps.row_of("deed"),
        },
        settable_once=[],
    )


def _release_lasts_for_pulls() -> None:
    for table in ("material", "mould"):
        steps.add_column(table, "release_pulls", IntegerField(null=True, constraints=[Check("release_pulls > 0")]))
    for name in ("release_until_pull", "coats_on", "coats_asked"):
        steps.add_column("mould", name, IntegerField(null=True))
    steps.add_column("mould_treatment", "until_pull", IntegerField(null=True))


def _permits_may_end() -> None:
    steps.change_check(
        "permission",
        old=steps.listed("decision", _DECISIONS),
        new=steps.listed("decision", [*_DECISIONS, "withdrawn"]),
    )
    steps.add_column("permission", "withdrawn_by", steps.row_of("person", null=True))
    steps.add_column("permission", "withdrawn_at", BigIntegerField(null=True))
    steps.add_column("permission", "withdrawn_in", steps.row_of("deed", null=True))
    steps.add_column("permission", "withdrawn_because", TextField(null=True))
    steps.change_check("permission", old=None, new=_together(_WITHDRAWN))
    steps.change_check("permission", old=None, new="(decision = 'withdrawn') = (withdrawn_by_id IS NOT NULL)")
