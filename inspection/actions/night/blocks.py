"""Blocks: named, renamed, given to whoever measures there, taken away."""

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.models import Block, Sheet
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.models import Person


@transaction.atomic
def add_block(name: str, *, act: Act) -> Block:
    """
    Bring a block, a flat plate with a name, into use.

    Writes a Block; audits ``block.added``.  Raises RefusedError when the name is
    taken.
    """
    block = _named(name)
    record_event("block.added", subject=block, act=act)
    return block


@transaction.atomic
def rename_block(block: Block, name: str, *, act: Act) -> Block:
    """
    Call a block by another name; sheets that name it keep the one it had.

    Writes the Block, or where sheets name it another Block in its place; audits
    ``block.renamed``.  Raises RefusedError when the name is taken.
    """
    block = Block.objects.select_for_update().get(pk=block.pk)
    before, who = block.name, block.measured_by
    if name == before:
        return block
    _refuse_name(name)
    is_named = Sheet.objects.filter(block=block).exists()
    if is_named or Block.objects.filter(name=name).exists():
        if is_named:
            Block.objects.filter(pk=block.pk).update(is_in_use=False, measured_by=None)
        else:
            block.delete()
        block = _named(name)
        block.measured_by = who
    block.name = name
    block.save(update_fields=["name", "measured_by"])
    record_event("block.renamed", subject=block, act=act, before=before)
    return block


@transaction.atomic
def man_block(block: Block, person: Person | None, *, act: Act) -> None:
    """
    Say who measures at a block; whoever it is measures at no other any more.

    Writes the Block and the one left; audits ``block.manned``.
    """
    if person is not None:
        others = Block.objects.filter(measured_by=person).exclude(pk=block.pk)
        others.update(measured_by=None)
    Block.objects.filter(pk=block.pk).update(measured_by=person)
    record_event(
        "block.manned", subject=block, act=act, person=person.pk if person else None
    )


@transaction.atomic
def remove_block(block: Block, *, act: Act) -> None:
    """
    Take a block away that no car stood on.

    Deletes the Block; audits ``block.removed``.  Raises RefusedError when a sheet
    names it.
    """
    if Sheet.objects.filter(block=block).exists():
        raise RefusedError(
            code="block_in_use",
            sentence=_("Sheets were taken on “%(block)s” and name it; it stays.")
            % {"block": block},
        )
    record_event("block.removed", subject=block, act=act)
    block.delete()


def _named(name: str) -> Block:
    """Give a block of this name that was not in use: a new one, or an old one again."""
    _refuse_name(name)
    block, is_new = Block.objects.get_or_create(name=name)
    if not is_new:
        block.is_in_use = True
        block.save(update_fields=["is_in_use"])
    return block


def _refuse_name(name: str) -> None:
    if Block.objects.filter(name=name, is_in_use=True).exists():
        raise RefusedError(
            code="name_taken",
            sentence=_("A block is already called “%(name)s”.") % {"name": name},
            field="name",
        )
