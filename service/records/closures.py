"""The text of the one recursive query: from items on to what they lead to, within the statement that needs it.

What the two engines' planners make of it has been measured on an account of 100,000 parts:

- SQLite answers a step by a Bloom filter over all movements once it has statistics, unless it says `IN (x.id)`; and it
  turns the tables around, unless they are joined by CROSS JOIN.
- PostgreSQL takes a recursive query for ten times its size and then hashes all movements at each step; a LATERAL
  subquery with OFFSET 0 is looked up for each row, by its index.
"""

from service.database import each


def steps(start: str, *, back: bool, name: str = "reach", also: str = "", within: str = "") -> str:
    """The text of a recursive table ``name``: what ``start`` selects, and step by step what it leads to.

    The first column of ``start`` is the item; a second, where ``also`` names it, is carried along. ``within`` names
    a table that the steps do not leave.
    """
    near, far = ("target_id", "source_id") if back else ("source_id", "target_id")
    carried = f", {also}" if also else ""
    # The plus sign keeps SQLite from looking the table up for each movement instead of the other way round.
    stay = f" AND +m.{far} IN (SELECT id FROM {within})" if within else ""
    return (
        f"{name}(id{carried}) AS ({start} UNION SELECT m.{far}{f', {name}.{also}' if also else ''} FROM {name}"
        f" {each('movement', 'm', f'm.{near} IN ({name}.id)')}"
        f" WHERE m.{far} IS NOT NULL AND m.cancelled_by_id IS NULL{stay})"
    )
