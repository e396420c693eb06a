"""Own cars and own seals: who leaves what is theirs to others, and when not."""

from collections.abc import Collection

from inspection.models import Entry, Sheet
from inventory.compute.roles import ROLES_THAT_MAY, Ability
from inventory.models import Club, Person


def leaves_to_others(person: Person, of: Entry | Sheet, ability: Ability) -> bool:
    """
    Whether somebody leaves a car alone that they are concerned in.

    They do not measure it, unless the club lets them, nor put it on the block or seal
    its sheet.  Where nobody unconcerned has the right, the chief does it all.
    """
    if person.pk not in of.concerned:
        return False
    if ability is Ability.INSPECT_CARS and _club_lets_them():
        return False
    is_alone = not somebody_may(ability, but=of.concerned)
    return not (is_alone and person.may(Ability.INSPECT_OWN_CAR))


def leaves_ruling_to_others(person: Person, sheet: Sheet) -> bool:
    """
    Whether another rules of a sheet than somebody who sealed it or is concerned.

    So it is where there is one who may, and is neither.
    """
    concerned = sheet.entry.concerned
    if person.pk not in {sheet.seal.sealed_by_id, *concerned}:
        return False
    return somebody_may(Ability.RULE_ON_SHEETS, but=concerned | {person.pk})


def somebody_may(ability: Ability, *, but: Collection[int]) -> bool:
    """Whether somebody active, and not among these people, has an ability."""
    people = Person.objects.active().exclude(pk__in=but)
    return people.filter(grants__role__in=ROLES_THAT_MAY[ability]).exists()


def _club_lets_them() -> bool:
    return Club.objects.filter(lets_own_cars_be_measured=True).exists()
