"""Cure schedules and data loggers."""

from typing import Any

from flask import request

from schemas.answers import schema_of
from schemas.schedules import (
    LoggerChange,
    LoggerIn,
    PreviewQuery,
    ScheduleChange,
    ScheduleIn,
    ScheduleQuery,
)
from service.api.base import Blueprint, answered
from service.api.examples import example_of
from service.database import reading
from service.operations.cures import loggers, schedules

blp = Blueprint("schedules", "Cure schedules, and how the files of data loggers are read")

# A logger's file as it came, whatever the sender calls it.
FILE_BODY = {
    "required": True,
    "content": {
        media_type: {
            "schema": {"type": "string", "format": "binary"},
        }
        for media_type in ("text/csv", "application/octet-stream")
    },
}


@blp.arguments(PreviewQuery, location="query")
@blp.response(200, schema_of(loggers.Preview), example=example_of(loggers.Preview))
def preview_log(asked: dict[str, Any], logger: int) -> Any:
    """Look at a logger's file without keeping it."""
    with reading():
        preview = loggers.preview_log(logger, content=request.get_data(), **asked)
    return answered(preview, loggers.Preview)


blp.listing("/schedules", schedules.list_schedules, ScheduleQuery)
blp.write("/schedules", schedules.add_schedule, ScheduleIn)
blp.read("/schedules/<number:schedule>", schedules.read_schedule)
blp.edit("/schedules/<number:schedule>", schedules.change_schedule, ScheduleChange)
blp.write("/schedules/<number:schedule>/approval", schedules.approve_schedule)
blp.listing("/loggers", loggers.list_loggers)
blp.write("/loggers", loggers.add_logger, LoggerIn)
blp.read("/loggers/<number:logger>", loggers.read_logger)
blp.edit("/loggers/<number:logger>", loggers.change_logger, LoggerChange)
blp.custom(
    "/loggers/<number:logger>/preview",
    preview_log,
    right="read_account",
    method="POST",
    doc={"requestBody": FILE_BODY},
)
