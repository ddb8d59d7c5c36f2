"""What somebody might want to hide, one thing at a time: each is seen, and named with its table and the act behind."""

from pathlib import Path
from typing import Any

from peewee import DatabaseError

from service.database import database, rows_of
from tests.forgeries.conftest import differences, undone
from tests.forging import say

# What is hidden, the table whose row gives it away, what that row is called, the statement (`?` is true).
STORIES = [
    tuple(line.split(" | ", 3)) for line in Path(__file__).with_name("stories.txt").read_text("utf-8").splitlines()
]


def test_each_story_is_seen_and_named(shop_with_history: Any) -> None:
    assert len(STORIES) > 70
    unseen: dict[str, Any] = {}
    for story, table, what, statement in STORIES:
        with undone() as put_back:
            try:
                with database.atomic():
                    count = say(statement, *[True] * statement.count("?")).rowcount
            except DatabaseError as error:
                unseen[story] = str(error)
                continue
            put_back()
            named = [d.sentence for d in differences() if d.what == what and f" {table} " in f"{d.sentence} "]
            behind = [sentence for sentence in named if what == "added" or "entry " in sentence]
            if count < 1 or not behind:
                unseen[story] = (count, named[:2])
    assert unseen == {}


def test_what_is_about_a_thing_is_named_with_its_code_and_the_act(shop_with_history: Any) -> None:
    ((code, seq),) = rows_of(
        "SELECT i.code, e.seq FROM cup_check c JOIN item i ON i.id = c.mix_id JOIN entry e ON e.deed_id = c.deed_id"
        " ORDER BY c.id LIMIT 1"
    )
    with undone() as put_back:
        say("UPDATE cup_check SET hardness = 99 WHERE id = (SELECT MIN(id) FROM cup_check)")
        put_back()
        (said,) = [d.sentence for d in differences() if " cup_check " in d.sentence]
    assert said.startswith("Row ")
    assert f"of the table cup_check ({code}) is not as entry {seq} (checking the cup of {code}" in said
