"""A logger says when it was calibrated, by what paper, and until when that counts."""

from typing import Any

from peewee import DateField, TextField

from service.migrations import steps

# One is nothing without the other.
_TOGETHER = (
    "((calibrated_on IS NULL AND calibration IS NULL) OR (calibrated_on IS NOT NULL AND calibration IS NOT NULL))"
)


def up(migrator: Any, db: Any) -> None:
    steps.add_column("logger", "calibrated_on", DateField(null=True))
    steps.add_column("logger", "calibration", TextField(null=True))
    steps.add_column("logger", "calibration_due_on", DateField(null=True))
    for check in (_TOGETHER, "calibration_due_on > calibrated_on"):
        steps.change_check("logger", old=None, new=check)
