"""A reading in, outcomes out: twelve queries at most, whatever rules or readings."""

import uuid

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inspection.compute.night.entries import PartPosition
from inspection.compute.quantities.quantity import Kind
from inspection.compute.quantities.registry import QUANTITIES
from inspection.compute.rulebooks.requirements import Answer
from inspection.compute.rulebooks.text import RuleText
from inspection.models import Sheet
from inventory.models import GaugeMode
from tests import builders
from tests.conftest import listed

pytestmark = pytest.mark.django_db


def every_rule() -> tuple[RuleText, ...]:
    """Write a rule on each quantity of the registry that can have one."""
    rules = []
    for place, (key, row) in enumerate(QUANTITIES.items()):
        if row.kind is Kind.LOOKED_AT:
            rules.append(builders.rule(str(place), key, required=Answer.YES))
        elif row.kind is not Kind.DECLARED:
            rules.append(builders.rule(str(place), key, lower=row.low))
    return tuple(rules)


def queries_of_a_reading(client: Client, sheet: Sheet, gauge: GaugeMode) -> list[str]:
    with CaptureQueriesContext(connection) as context:
        answer = client.post(
            f"/sheet/{sheet.number}/reading",
            {
                "reading_id": uuid.uuid4(),
                "column": "tyre_diameter_rear_left",
                "text": "18.5",
                "gauge": gauge.pk,
            },
            headers={"accept": "application/json"},
        )
    assert answer.status_code == 200
    return [query["sql"] for query in context.captured_queries]


@pytest.mark.parametrize("rules", [builders.SIMPLE_RULES, every_rule()])
def test_reading_costs_twelve_queries_at_most(rules: tuple[RuleText, ...]) -> None:
    scrutineer, gauge = (
        builders.make_scrutineer(),
        builders.make_gauge(at=builders.now()),
    )
    car = builders.make_car()
    for position in (PartPosition.REAR_LEFT, PartPosition.REAR_RIGHT):
        builders.fit(car, builders.make_part(), position)
    night = builders.make_night(builders.make_edition(rules))
    sheet = builders.make_sheet(
        entry=builders.make_entry(car=car, night=night), by=scrutineer
    )
    client = Client()
    client.force_login(scrutineer)
    queries_of_a_reading(client, sheet, gauge)  # loads the edition, once
    few = queries_of_a_reading(client, sheet, gauge)
    for _ in range(3):
        queries_of_a_reading(client, sheet, gauge)
    many = queries_of_a_reading(client, sheet, gauge)
    assert len(few) == len(many), listed(many)
    assert len(many) <= 12, listed(many)
