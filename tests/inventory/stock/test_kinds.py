"""Every kind of part, walked: a fact of it that is forgotten anywhere shows here."""

import dataclasses

import pytest
from django.db import models
from django.test import Client

from inspection.loaders.fit.parts import load_columns
from inventory.actions.batches import NewBatch, take_batch
from inventory.actions.stock import NewPart, receive_part
from inventory.compute.roles import Role
from inventory.compute.stock import (
    ALPHABET,
    KINDS,
    PART_SCALES,
    Fact,
    FactValue,
    KindOfPart,
    NotAFactError,
    PartKind,
    PartQuantity,
    PartState,
    TyreFacts,
    facts_of,
    kind_of,
    read_tag,
)
from inventory.files.columns import guess_layout
from inventory.files.marks import FileFacts
from inventory.files.roles import role_said, roles_by_name, roles_of
from inventory.files.rows import read_rows
from inventory.files.tables import Table
from inventory.forms.stock import MeasurePartForm, NewPartForm
from inventory.loaders.gauges import load_gauges
from inventory.loaders.incoming.checked_rows import check_rows
from inventory.loaders.parts import (
    FACT_TABLES,
    PartSearch,
    facts_text,
    find_parts,
    size_text,
)
from inventory.models import Part, PartEstimate, facts_model
from inventory.words.numbers import error_words
from tests import builders

pytestmark = pytest.mark.django_db

EACH_KIND = pytest.mark.parametrize("kind", KINDS.values(), ids=lambda one: one.kind)


def some_value(fact: Fact) -> FactValue:
    """Give a value that the fact may have, told from that of every other fact."""
    if fact.words is not None:
        return list(fact.words)[-1]
    if fact.looks:
        # As its field's help writes it, between the first quotation marks.
        return fact.help.partition("“")[2].partition("”")[0]
    return (fact.low + fact.high) // 2 if fact.is_count else f"w {fact.name}"[:12]


def typed_facts(kind: KindOfPart) -> dict[str, FactValue]:
    """Give a value for each fact that may be said together with the others."""
    said = {fact.name: some_value(fact) for fact in kind.fact_list}
    for fact in kind.fact_list:
        if fact.only_of is not None:
            name, value = fact.only_of
            said[name] = value
    return said


def make(kind: KindOfPart) -> Part:
    return receive_part(
        NewPart(facts=kind.facts(**typed_facts(kind))), act=builders.act()
    )


@pytest.fixture
def keeper() -> Client:
    client = Client()
    client.force_login(builders.make_person(Role.PARTS_KEEPER))
    return client


def test_every_kind_is_declared_and_told_apart() -> None:
    assert set(KINDS) == set(PartKind)
    assert all(kind is declared.kind for kind, declared in KINDS.items())
    prefixes = [kind.prefix for kind in KINDS.values()]
    assert len(set(prefixes)) == len(prefixes)
    assert all(len(one) == 1 and one in ALPHABET for one in prefixes)
    assert len({kind.facts for kind in KINDS.values()}) == len(KINDS)
    assert len({kind.plural for kind in KINDS.values()}) == len(KINDS)


def test_every_quantity_is_a_size_of_a_kind_and_read_alike_on_all() -> None:
    assert set(PART_SCALES) == set(PartQuantity)
    for kind in KINDS.values():
        for size in kind.sizes:
            scale = PART_SCALES[size.quantity]
            assert (size.unit, size.repeatability) == (scale.unit, scale.repeatability)
            assert size.repeatability > 0
            assert size.plausible is None or size.plausible[0] < size.plausible[1]


@EACH_KIND
def test_facts_stand_in_a_table_of_the_kinds_name(kind: KindOfPart) -> None:
    table = facts_model(kind.kind)
    columns = {
        column.name: column
        for column in table._meta.concrete_fields
        if column.name != "part"
    }
    assert list(columns) == [fact.name for fact in kind.fact_list]
    assert kind.kind in FACT_TABLES
    for fact in kind.fact_list:
        column = columns[fact.name]
        if fact.words is not None:
            assert [one for one, _ in column.choices or ()] == list(fact.words)
        elif fact.is_count:
            assert isinstance(column, models.PositiveSmallIntegerField)
            assert 0 < fact.low < fact.high
        else:
            assert column.max_length == fact.longest
        assert fact.is_required == (not column.has_default() and not column.blank)


@EACH_KIND
def test_facts_are_said_shown_searched_and_loaded(kind: KindOfPart) -> None:
    part = make(kind)
    assert part.kind == kind.kind
    assert read_tag(part.tag).startswith(kind.prefix)
    found = find_parts(PartSearch(kind=kind.kind)).get()
    said = typed_facts(kind)
    for fact in kind.fact_list:
        assert getattr(getattr(part, part.kind), fact.name) == said[fact.name]
        if fact.say:
            assert fact.say.format(said[fact.name]) in facts_text(found)
        words = str(said[fact.name])
        assert find_parts(PartSearch(words=words)).get() == part
    columns = load_columns(Part.objects.all(), kind.kind)
    assert {name: list(column) for name, column in columns.facts.items()} == {
        name: [value] for name, value in said.items()
    }
    assert list(columns.sizes) == [size.quantity for size in kind.sizes]


@EACH_KIND
def test_form_asks_for_every_fact_and_offers_every_size(kind: KindOfPart) -> None:
    said = typed_facts(kind)
    form = NewPartForm({"name": "one", "drawer": "A1", **said}, kind=kind.kind)
    assert form.is_valid(), form.errors
    new = form.new_part()
    assert dataclasses.asdict(new.facts) == said
    assert kind_of(new.facts) is kind
    offered = MeasurePartForm(gauges=[], kind=kind.kind).fields["quantity"].choices  # type: ignore[attr-defined]
    assert [one for one, _ in offered] == [size.quantity for size in kind.sizes]
    empty = NewPartForm({}, kind=kind.kind)
    asked = {fact.name for fact in kind.fact_list if fact.is_required or fact.words}
    assert set(empty.errors) == asked


@EACH_KIND
def test_part_is_made_found_measured_and_retired_by_its_pages(
    kind: KindOfPart, keeper: Client
) -> None:
    assert f"/parts/new/{kind.kind}" in keeper.get("/parts").content.decode()
    asked = keeper.get(f"/parts/new/{kind.kind}").content.decode()
    assert all(f'name="{fact.name}"' in asked for fact in kind.fact_list)
    keeper.post(f"/parts/new/{kind.kind}", typed_facts(kind))
    part = Part.objects.get()
    low, high = kind.main.plausible or (1.0, 20.0)
    gauge = builders.make_gauge(unit=kind.main.unit, at=builders.now())
    value = f"{(low + high) / 2:g}"
    answer = keeper.post(
        f"/parts/{part.tag}/measure",
        {"quantity": kind.main.quantity, "gauge": gauge.pk, "texts": value},
    )
    assert answer.status_code == 302
    listed = find_parts(PartSearch(words=part.tag)).get()
    assert size_text(listed)
    assert part.tag in keeper.get(f"/parts?kind={kind.kind}").content.decode()
    assert facts_text(listed) in keeper.get(f"/parts/{part.tag}").content.decode()
    keeper.post(f"/parts/{part.tag}/retire", {"note": "bent"})
    assert Part.objects.get().state == PartState.RETIRED


@EACH_KIND
def test_table_of_the_kind_is_known_by_the_words_of_the_roles(
    kind: KindOfPart,
) -> None:
    roles = [role for role in roles_of(kind.kind) if role.headings]
    assert len(roles_by_name(kind.kind)) == len(roles_of(kind.kind))
    said = {"name": "one", "drawer": "A1", "note": "dull", "read_on": "2019-05-12"} | {
        name: str(value) for name, value in typed_facts(kind).items()
    }
    cells = []
    for role in roles:
        if role.fact is not None:
            cells.append(said[role.fact.name])
        elif role.size is not None:
            low, high = role.size.plausible or (1.0, 20.0)
            cells.append(f"{(low + high) / 2:g}")
        else:
            cells.append("X1")
    # Each role has words over its column that say nothing else.
    headings = [
        next(
            words
            for words in sorted(role.headings)
            if role_said(frozenset(words.split()), kind.kind) is role
        )
        for role in roles
    ]
    table = Table(rows=[headings, cells], facts=FileFacts(form="CSV"))
    layout = guess_layout(table, kind.kind)
    assert [role.name for role in layout.roles] == [role.name for role in roles]
    read = read_rows(table, layout, kind.kind)
    assert not read.faults
    gauge = load_gauges(builders.now(), pk=builders.make_gauge(at=builders.now()).pk)[0]
    take_batch(
        NewBatch(name="A table", kind=kind.kind, gauge=gauge),
        check_rows(read.rows, kind=kind.kind, gauge=gauge),
        act=builders.act(),
    )
    part = Part.objects.get()
    facts = facts_model(kind.kind).objects.values().get()  # type: ignore[attr-defined]
    del facts["part_id"]
    assert facts == typed_facts(kind)
    assert (part.tag, part.name, part.drawer) == ("X1", "one", "A1")
    assert part.moves.get().note.endswith("; dull")
    sizes = set(PartEstimate.objects.values_list("quantity", flat=True))
    assert sizes >= {role.size.quantity for role in roles if role.size is not None}


@pytest.mark.parametrize(
    ("fact", "text", "reason"),
    [
        (Fact(label="Teeth", is_count=True, low=4, high=400), "3", "from 4 to 400"),
        (Fact(label="Teeth", is_count=True, low=4, high=400), "2x", "from 4 to 400"),
        (Fact(label="Teeth", is_count=True, low=4, high=400), "²8", "from 4 to 400"),
        (facts_of(KINDS[PartKind.GEAR].facts)[0], "worm", "spur, crown, pinion"),
    ],
)
def test_fact_that_is_none_is_named(fact: Fact, text: str, reason: str) -> None:
    with pytest.raises(NotAFactError) as refused:
        fact.read(text)
    assert reason in error_words(refused.value)


def test_words_of_another_kind_say_nothing() -> None:
    made = KINDS[PartKind.TYRE].read_facts({"width_code": "11", "teeth": "x"})
    assert made == TyreFacts(width_code="11")
