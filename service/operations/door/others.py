"""Who else can do what one person may not do alone, so that no refusal of it is a dead end."""

from collections.abc import Collection

from service.records.people import Person, PersonRole

_MOST_NAMED = 3


def who_else(roles: Collection[str], barred: Collection[int], *, or_alone: bool = False) -> str:
    """Who can do it instead; where nobody else has the role, who could be given it.

    ``or_alone``: a shop may also say that it has no second person for this.
    """
    called = " or ".join(sorted(roles))
    others = Person.select(Person.id, Person.name).where(
        Person.active & ~Person.is_system & Person.id.not_in(list(barred))
    )
    have_it = PersonRole.select(PersonRole.person).where(PersonRole.role.in_(list(roles)))
    if others.where(Person.id.in_(have_it)).exists():
        return f"A second person with the role {called} does it."
    names = [person.name for person in others.order_by(Person.id).limit(_MOST_NAMED)]
    given = f"an administrator can give it to {' or '.join(names)}" if names else "an administrator can add somebody"
    alone = ", or say in the shop's settings that there is no second person" if or_alone else ""
    return f"Nobody else has the role {called}: {given}{alone}."
