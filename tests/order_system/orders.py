"""What an order system's customers want, and what they change their minds about; picked by a seed."""

from dataclasses import asdict, dataclass, field
from random import Random
from typing import Any

PART_NUMBERS = ("HY-204", "HY-131")
# An order's lines; so many lines in all, whatever is added later.
_MOST_LINES = 5


@dataclass
class Order:
    """One order as it is placed, and what is done to it afterwards, step by step.

    Attributes
    ----------
    lines
        As they are sent: part number, quantity, serials, who replaces what is scrapped, the line's own reference.
    steps
        Name of what is done and what it takes: ``more`` lines, a ``quantity``, ``cancel``.
    """

    reference: str
    customer: str
    lines: list[dict[str, Any]]
    steps: list[list[Any]] = field(default_factory=list)

    @property
    def cancelled(self) -> bool:
        return any(step[0] == "cancel" for step in self.steps)

    @property
    def last_lines(self) -> list[dict[str, Any]]:
        """All its lines, with the quantities that they have in the end."""
        lines = [dict(line) for line in self.lines]
        for name, *what in self.steps:
            if name == "more":
                lines += [dict(line) for line in what[0]]
            elif name == "quantity":
                lines[what[0] - 1]["quantity"] = what[1]
        return lines

    @property
    def planned(self) -> int:
        """How many parts are ever planned for it, but for those in the place of scrapped ones."""
        count = sum(line["quantity"] for line in self.lines)
        lines = [dict(line) for line in self.lines]
        for name, *what in self.steps:
            if name == "more":
                lines += [dict(line) for line in what[0]]
                count += sum(line["quantity"] for line in what[0])
            elif name == "quantity":
                count += max(0, what[1] - lines[what[0] - 1]["quantity"])
                lines[what[0] - 1]["quantity"] = what[1]
        return count

    def to_dict(self) -> dict[str, Any]:
        return asdict(self)


def wanted(lines: int, seed: int) -> list[Order]:
    """Orders of so many lines in all."""
    pick, orders, left = Random(seed), [], lines
    while left:
        number = len(orders) + 1
        count = min(left, pick.randint(1, _MOST_LINES))
        left -= count
        reference = f"PO-{number:04}"
        made = [_line(pick, f"{reference}/{n}") for n in range(1, count + 1)]
        later = made[1:] if count > 1 and pick.random() < 0.2 else []
        order = Order(reference, f"Customer {number % 17}", made[: count - len(later)])
        if later:
            order.steps.append(["more", later])
        if pick.random() < 0.25:
            at = pick.randint(1, count)
            now = order.last_lines[at - 1]["quantity"]
            order.steps.append(["quantity", at, pick.choice([now + 2, now + 1, max(0, now - 1)])])
        if pick.random() < 0.08:
            order.steps.append(["cancel"])
        orders.append(order)
    return orders


def _line(pick: Random, reference: str) -> dict[str, Any]:
    quantity = pick.choice((1, 1, 1, 2, 2, 3))
    line: dict[str, Any] = {"part_number": pick.choice(PART_NUMBERS), "quantity": quantity, "reference": reference}
    if pick.random() < 0.5:
        line["serials"] = [f"{reference}-{n}" for n in range(1, quantity + 1)]
    if pick.random() < 0.3:
        line["replaced_by"] = "order system"
    return line
