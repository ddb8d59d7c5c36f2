"""Issued documents are kept byte for byte, with the certificates that they were signed with."""

from typing import Any

from peewee import BigAutoField, BigIntegerField, BlobField, IntegerField, TextField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_table(
        "signing_certificate",
        {
            "id": BigAutoField(),
            "fingerprint": TextField(unique=True),
            "certificate": TextField(),
            "deed": steps.row_of("deed"),
        },
        settable_once=[],
    )
    steps.add_table(
        "document_issue",
        {
            "id": BigAutoField(),
            "document": TextField(),
            "issue": IntegerField(),
            "kind": TextField(),
            "subject": TextField(index=True),
            "sha256": TextField(unique=True),
            "data_sha256": TextField(),
            "size": BigIntegerField(),
            "content": BlobField(),
            "head_number": BigIntegerField(),
            "head_hash": TextField(),
            "certificate": steps.row_of("signing_certificate"),
            "deed": steps.row_of("deed"),
        },
        unique=[("document", "issue")],
        checks=["size > 0 AND size <= 8000000"],
        settable_once=[],
    )
