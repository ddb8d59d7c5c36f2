"""Rows that only a person's signature makes what they are: was it a signed act that left them so?

Each signature is proved over its own entry. That says nothing of an act that needs none and yet writes a release or a
decision, as no honest act does and a forger's would. So of each such row the last entry that names it has to be that of
an act which is signed for it; the signature then covers the row as it stands, by its hash. What a step of the schema
wrote anew is named by its own entry, of which there is one for each step (`door/impossible.py`).
"""

from collections.abc import Iterator
from dataclasses import dataclass

from service.database import bound_tables, key_as_text, row_by_row
from service.operations.door.acts import ACTS, OF_THE_MACHINE, SIGNED_SOMETIMES, called
from service.operations.door.chain import LINKS, read_body
from service.operations.door.impossible import ANEW


@dataclass(frozen=True, slots=True)
class OnlySigned:
    """Rows of a table that meet a condition, and the acts that may have left them so."""

    table: str
    where: str
    acts: tuple[str, ...]
    what: str


ONLY_SIGNED = (
    OnlySigned("permission", "t.decision <> 'asked'", ("sign_permission", "withdraw_permission"), "is decided"),
    OnlySigned("nonconformance", "t.disposition IS NOT NULL", ("decide_nonconformance",), "is decided"),
    OnlySigned("receipt", "t.released_in_id IS NOT NULL", ("release_lot", "release_lots"), "is released"),
    OnlySigned(
        "state_change",
        "t.state = 'released' AND EXISTS (SELECT 1 FROM part p WHERE p.item_id = t.item_id)",
        ("release_part", "correct_entry"),
        "says released",
    ),
    OnlySigned(
        "hold",
        "t.lifted_at IS NOT NULL AND t.flag IS NULL",
        ("lift_hold", "decide_nonconformance", "correct_entry"),
        "is lifted",
    ),
    OnlySigned("secret_reset", "1 = 1", ("ask_secret_reset", "agree_secret_reset"), "sets a secret anew"),
    # Of an administrator who lost theirs it is ended on the machine itself, where there may be no second person.
    OnlySigned(
        "signing_key",
        "t.ended_at IS NOT NULL",
        ("set_secret", "agree_secret_reset", "recover_administrator"),
        "is ended",
    ),
    OnlySigned("recall", "t.closed_at IS NOT NULL", ("close_recall",), "is closed"),
    OnlySigned("storage_review", "1 = 1", ("review_storage",), "decides about cans"),
    OnlySigned("design", "t.approved_at IS NOT NULL", ("approve_design", "approve_revisions"), "is approved"),
    OnlySigned(
        "resin_system", "t.approved_at IS NOT NULL", ("approve_resin_system", "approve_revisions"), "is approved"
    ),
    OnlySigned("schedule", "t.approved_at IS NOT NULL", ("approve_schedule", "approve_revisions"), "is approved"),
)
# A part is released by whom and when its release says.
_RELEASES = """
    SELECT i.code FROM part p JOIN item i ON i.id = p.item_id
    WHERE p.released_at IS NOT NULL AND NOT EXISTS (
        SELECT 1 FROM state_change s JOIN deed d ON d.id = s.deed_id
        WHERE s.item_id = p.item_id AND s.state = 'released' AND d.operation = 'release_part'
            AND d.recorded_at = p.released_at AND d.person_id = p.released_by_id)
    ORDER BY i.id
"""


def unsigned_rows() -> Iterator[tuple[str, str]]:
    """Rows that are what only a signed act makes them, and were left so by another; table with key, and a sentence.

    To be asked when the marks of the journal are linked.
    """
    forms = bound_tables()
    for only in ONLY_SIGNED:
        if only.table not in forms:
            continue  # that it is gone is told already
        # Where an act is signed at times alone, its entry says whether this one was.
        acts = ", ".join(f"'{act}'" for act in (*only.acts, ANEW) if act not in SIGNED_SOMETIMES)
        left = (
            f'SELECT m.key, m.seq, d.operation, e.body FROM "{only.table}" t'
            f" JOIN {LINKS} m ON m.tab = '{only.table}' AND m.last = 1 AND m.key = {key_as_text(forms[only.table][1])}"
            f" JOIN entry e ON e.seq = m.seq JOIN deed d ON d.id = e.deed_id"
            f" WHERE ({only.where}) AND d.operation NOT IN ({acts}) ORDER BY m.seq"
        )
        for key, seq, operation, body in row_by_row(left):
            if operation in only.acts and "signs" in read_body(body):
                continue
            act = called(operation) if operation in ACTS or operation in OF_THE_MACHINE else operation
            yield (
                f"{only.table} {key}",
                f"Row {key} of the table {only.table} {only.what}, which a person signs; entry {seq} ({act}) left it "
                "so and is no such act.",
            )
    for (code,) in row_by_row(_RELEASES):
        yield f"part {code}", f"The part {code} is kept as released; no release of then, by that person, says so."
