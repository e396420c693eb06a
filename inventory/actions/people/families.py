"""Who is whose family: declared by an admin, and taken back."""

from django.db import transaction
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.models import FamilyTie, Person


@transaction.atomic
def declare_family(one: Person, other: Person, *, act: Act) -> FamilyTie:
    """
    Declare two people family of each other: neither inspects the other's cars.

    Writes a FamilyTie; audits ``family.declared``.  Raises RefusedError when both are
    one person, or are declared already.
    """
    if one.pk == other.pk:
        raise RefusedError(
            code="same_person",
            sentence=_("%(one)s twice: two people are family of each other.")
            % {"one": one},
            field="other",
        )
    first, second = sorted((one, other), key=lambda person: person.pk)
    tie, is_new = FamilyTie.objects.get_or_create(
        first=first,
        second=second,
        defaults={"declared_by": act.by, "declared_at": act.at},
    )
    if not is_new:
        raise RefusedError(
            code="family_already",
            sentence=_("%(one)s and %(other)s are declared family already.")
            % {"one": one, "other": other},
            field="other",
        )
    record_event("family.declared", subject=_named(tie), act=act)
    return tie


@transaction.atomic
def take_back_family(tie: FamilyTie, *, act: Act) -> None:
    """
    Take back that two people are family; what was sealed meanwhile keeps its marks.

    Deletes the FamilyTie; audits ``family.taken_back``.
    """
    record_event("family.taken_back", subject=_named(tie), act=act)
    tie.delete()


def _named(tie: FamilyTie) -> str:
    """Name two people by number: a name can be erased, an audit row cannot."""
    return f"family of person {tie.first_id} and person {tie.second_id}"
