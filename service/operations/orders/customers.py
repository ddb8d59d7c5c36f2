"""Customers by name, one in any case of its letters."""

from dataclasses import dataclass
from typing import Annotated, Any

from schemas.words import Referred
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import AlreadyThere
from service.operations.door.rows import change_row, find_row
from service.operations.door.views import Page, page
from service.operations.orders.references import folded, keep, standing
from service.records.orders import Customer


@dataclass(frozen=True, slots=True)
class CustomerView:
    """A customer of the shop."""

    id: int
    name: str
    version: int


@operation
def add_customer(work: Work, *, name: str) -> CustomerView:
    """Add a customer. The first order for one adds it, too."""
    there = _named(name)
    if there is not None:
        raise AlreadyThere(f"There is a customer {there.name} already.", way_out="Use it.", customer=there.id)
    return view_customer(_add(work, name))


@operation
def change_customer(work: Work, *, customer: int, version: int, **changes: Annotated[Any, Customer]) -> CustomerView:
    """Change a customer's name; parts and papers keep the name that they were made under."""
    row = find_row(Customer, customer, "customer")
    if "name" in changes:
        there = _named(changes["name"])
        if there is not None and there.id != row.id:
            raise AlreadyThere(f"There is another customer {there.name} already.", pointer="/name", customer=there.id)
        changes["name_key"] = folded(changes["name"])
    change_row(work, row, version, changes, card=False)
    return view_customer(row)


def read_customer(customer: int) -> CustomerView:
    """One customer."""
    return view_customer(find_row(Customer, customer, "customer"))


def list_customers(*, after: int | None, limit: int, name: str | None = None) -> Page[CustomerView]:
    """List customers, all or the one of a name."""
    query = Customer.select()
    if name is not None:
        query = query.where(Customer.name_key == folded(name))
    return page(query, Customer.id, after=after, limit=limit, view=view_customer)


def view_customer(row: Customer) -> CustomerView:
    return CustomerView(id=row.id, name=row.name, version=row.version)


def customer_for(work: Work, system: str, name: str | None, reference: str | None) -> Customer | None:
    """The customer whom a system means by its own reference or by name; a name that is new is added.

    A reference that is known decides, whatever the name says; one that is new is given to the customer of that name.
    """
    known = standing(Referred.CUSTOMER, system, [reference]) if reference is not None else {}
    for row in known.values():
        return find_row(Customer, row.subject, "customer")
    if name is None:
        return None
    customer = _named(name) or _add(work, name)
    if reference is not None:
        keep(work, Referred.CUSTOMER, system, {reference: customer.id})
    return customer


def _named(name: str) -> Customer | None:
    return Customer.get_or_none(Customer.name_key == folded(name))


def _add(work: Work, name: str) -> Customer:
    row = Customer.create(name=name, name_key=folded(name), deed=work.deed)
    work.note(customer=row.id, name=name)
    return row
