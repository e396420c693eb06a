"""Cars as they are known between the nights: what a part must fit, and the rules."""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final, TypeAlias

import numpy as np
from django.db.models import (
    BigIntegerField,
    F,
    FilteredRelation,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
)
from django.db.models.functions import Coalesce
from numpy.typing import NDArray

from inspection.compute.changes import Masses
from inspection.compute.conformity import DecisionRule
from inspection.compute.entries import PartPosition
from inspection.compute.fit import Envelope, Mounting
from inspection.compute.part_tables import stacked
from inspection.compute.quantities import FrontCarrier, Layout
from inspection.compute.recheck import AREA_OF_POSITION, Area, columns_of_area
from inspection.compute.requirements import Stage
from inspection.compute.rules import Field, Rules
from inspection.compute.sources import Source
from inspection.loaders.fit_parts import (
    columns_of_part,
    gears_of,
    motors_of,
    pinions_of,
)
from inspection.loaders.rulebooks import (
    LoadedEdition,
    LoadedRule,
    load_edition,
    rules_as_arrays,
)
from inspection.loaders.sheets import declared_values, field_of
from inspection.loaders.values import (
    ColumnValue,
    over_the_tips,
    sealed_values,
    stored_value,
    values_of_part,
)
from inspection.models import (
    Car,
    CarValue,
    Edition,
    FittedPart,
    NightClass,
    RoomSize,
    Seal,
)
from inventory.compute.stock import PartKind, PartQuantity

#: What is known of a fitted part: a row for each size that it has.
PartRows: TypeAlias = Sequence[Mapping[str, Any]]
Fitted: TypeAlias = Mapping[PartPosition, PartRows]

_MILLION: Final = 1_000_000
_REAR: Final = (PartPosition.REAR_LEFT, PartPosition.REAR_RIGHT)


@dataclass(frozen=True, kw_only=True, eq=False)
class CarNow:
    """
    A car as it is known between the nights.

    A value is the fitted part's, else what was read when the car was last on the
    block and has not been changed since, else the stored geometry's.
    """

    car: Car
    edition: LoadedEdition | None
    values: Mapping[str, ColumnValue]
    fitted: Fitted
    room_mm: Mapping[str, float]

    @cached_property
    def rules(self) -> tuple[LoadedRule, ...]:
        """The rules that the car has to meet before a race."""
        if self.edition is None:
            return ()
        return tuple(
            rule
            for rule in self.edition.at(Stage.BEFORE)
            if rule.applies_to(
                class_id=self.car.race_class_id,
                layout=Layout(self.car.layout),
                carrier=FrontCarrier(self.car.front_carrier),
            )
        )

    @cached_property
    def field(self) -> Field:
        """What is known of the car, as one row."""
        return field_of(self.values)

    @cached_property
    def rulebook(self) -> Rules:
        """The rules as arrays."""
        return rulebook_of(self.edition, self.rules, self.field, stage=Stage.BEFORE)

    @cached_property
    def envelope(self) -> Envelope:
        """What a part must fit."""
        return envelope_of(self.field, self.rulebook, self.fitted, self.room_mm)

    def tag(self, position: PartPosition) -> str:
        """Give the tag of what sits in a place, or nothing."""
        rows = self.fitted.get(position, ())
        return rows[0]["tag"] if rows else ""


def rulebook_of(
    edition: LoadedEdition | None,
    rules: tuple[LoadedRule, ...],
    field: Field,
    *,
    stage: Stage,
) -> Rules:
    """Write rules as arrays for one car; without an edition there are none."""
    if edition is None or not rules:
        return no_rules()
    return rules_as_arrays(
        edition,
        rules,
        stage=stage,
        columns=field.quantities,
        applies=np.ones((1, len(rules)), dtype=np.bool_),
    )


def no_rules() -> Rules:
    """Give a rulebook without rules, for one car."""
    return Rules(
        lower=np.empty(0),
        upper=np.empty(0),
        column=np.empty(0, dtype=np.int64),
        mandatory=np.empty(0, dtype=np.bool_),
        taken_only=np.empty(0, dtype=np.bool_),
        applies=np.ones((1, 0), dtype=np.bool_),
        decision_rule=DecisionRule.SIMPLE_ACCEPTANCE,
    )


def envelope_of(
    field: Field, rulebook: Rules, fitted: Fitted, room_mm: Mapping[str, float]
) -> Envelope:
    """Put together what of a car decides whether a part fits."""
    parts: dict[str, Any] = {}
    if rows := fitted.get(PartPosition.GEAR):
        parts["gear"] = gears_of(columns_of_part(rows, PartKind.GEAR))
    if rows := fitted.get(PartPosition.PINION):
        parts["pinion"] = pinions_of(columns_of_part(rows, PartKind.GEAR))
    if rows := fitted.get(PartPosition.MOTOR):
        parts["motor"] = motors_of(columns_of_part(rows, PartKind.MOTOR))
    sizes: dict[str, Any] = {size: np.array([mm]) for size, mm in room_mm.items()}
    return Envelope(
        car=field,
        rulebook=rulebook,
        mounting=Mounting(**sizes),
        masses=Masses(
            pair_g=sum(_mass_g(fitted.get(position, ())) for position in _REAR),
            gear_g=_mass_g(fitted.get(PartPosition.GEAR, ())),
            motor_g=_mass_g(fitted.get(PartPosition.MOTOR, ())),
        ),
        **parts,
    )


def _mass_g(rows: PartRows) -> float:
    masses = [r["value"] for r in rows if r["quantity"] == PartQuantity.MASS]
    return masses[0] / _MILLION if masses else np.nan


def envelope_of_cars(cars: Sequence[CarNow]) -> Envelope:
    """Put cars that are judged by one edition into one envelope, a row each."""
    edition = cars[0].edition
    rules = () if edition is None else edition.at(Stage.BEFORE)
    asked = [{rule.pk for rule in car.rules} for car in cars]
    applies = np.array([[rule.pk in some for rule in rules] for some in asked])
    rulebook = replace(no_rules(), applies=np.ones((len(cars), 0), dtype=np.bool_))
    if edition is not None and rules:
        rulebook = rules_as_arrays(
            edition,
            rules,
            stage=Stage.BEFORE,
            columns=cars[0].field.quantities,
            applies=applies,
        )
    envelopes = [car.envelope for car in cars]
    return Envelope(
        car=_beside(*(car.field for car in cars)),
        rulebook=rulebook,
        mounting=stacked([one.mounting for one in envelopes]),
        gear=stacked([one.gear for one in envelopes]),
        pinion=stacked([one.pinion for one in envelopes]),
        motor=stacked([one.motor for one in envelopes]),
    )


def _beside(*fields: Field) -> Field:
    def rows(name: str) -> NDArray[Any]:
        return np.concatenate([getattr(field, name) for field in fields])

    return Field(
        quantities=fields[0].quantities,
        value=rows("value"),
        random=rows("random"),
        systematic=rows("systematic"),
        gauge=rows("gauge"),
        bound=rows("bound"),
    )


def load_cars(cars: QuerySet[Car]) -> list[CarNow]:
    """Load cars with all that is known of them; as many queries for one as for all."""
    found = list(
        cars.annotate(edition_id=_edition_of_car(), seal_id=_last_seal_of_car())
    )
    keys = [car.pk for car in found]
    said = {car.pk: vars(car) for car in found}
    editions = _editions({row["edition_id"] for row in said.values()})
    seals = Seal.objects.select_related("sheet").in_bulk(
        [row["seal_id"] for row in said.values() if row["seal_id"]]
    )
    stored, fitted, rooms = _stored(keys), load_fitted(keys), load_rooms(keys)
    return [
        CarNow(
            car=car,
            edition=editions.get(said[car.pk]["edition_id"]),
            values=_values(
                car,
                stored.get(car.pk, []),
                fitted.get(car.pk, {}),
                seals.get(said[car.pk]["seal_id"]),
            ),
            fitted=fitted.get(car.pk, {}),
            room_mm=rooms.get(car.pk, {}),
        )
        for car in found
    ]


def _edition_of_car() -> Coalesce:
    """Tonight's edition for the car's class, else the last one published."""
    tonight = NightClass.objects.filter(
        night__opened_at__isnull=False,
        night__closed_at=None,
        race_class=OuterRef("race_class"),
    ).order_by("-night__date", "-night__pk")
    last = (
        Edition.objects.published()
        .filter(rulebook=OuterRef("race_class__rulebook"))
        .order_by("-number")
    )
    return Coalesce(
        Subquery(tonight.values("edition")[:1]),
        Subquery(last.values("pk")[:1]),
        output_field=BigIntegerField(),
    )


def _last_seal_of_car() -> Subquery:
    seals = Seal.objects.filter(sheet__entry__car=OuterRef("pk"))
    return Subquery(seals.order_by("-sealed_at", "-pk").values("pk")[:1])


def _editions(keys: Iterable[int | None]) -> dict[int, LoadedEdition]:
    wanted = [key for key in keys if key is not None]
    found = Edition.objects.select_related("rulebook").in_bulk(wanted)
    return {key: load_edition(edition) for key, edition in found.items()}


def _stored(keys: Sequence[int]) -> dict[int, list[CarValue]]:
    rows = CarValue.objects.current().filter(car__in=keys)
    found: dict[int, list[CarValue]] = defaultdict(list)
    for row in rows.select_related("gauge_mode__gauge"):
        found[row.car_id].append(row)
    return found


def load_rooms(keys: Sequence[int]) -> dict[int, dict[str, float]]:
    """Load the room that cars have for parts, mm; infinite where nothing is there."""
    found: dict[int, dict[str, float]] = defaultdict(dict)
    for row in RoomSize.objects.current().filter(car__in=keys):
        size = np.inf if row.value is None else row.value / _MILLION
        found[row.car_id][row.size] = size
    return found


def load_fitted(keys: Sequence[int]) -> dict[int, dict[PartPosition, PartRows]]:
    """Load what sits on cars now, with every current size, in one query."""
    rows = (
        FittedPart.objects.filter(car__in=keys, removed_at=None)
        .annotate(
            latest=FilteredRelation(
                "part__estimates", condition=Q(part__estimates__superseded_at=None)
            )
        )
        .values(
            "car_id",
            "position",
            pk=F("part"),
            tag=F("part__tag"),
            teeth=F("part__gear__teeth"),
            role=F("part__gear__role"),
            pitch_name=F("part__gear__pitch_name"),
            fixing=F("part__gear__fixing"),
            cut_for_teeth=F("part__gear__cut_for_teeth"),
            family=Coalesce("part__gear__family", "part__motor__family"),
            quantity=F("latest__quantity"),
            value=F("latest__value"),
            random=F("latest__random"),
            systematic=F("latest__systematic"),
            taken_at=F("latest__taken_at"),
            gauge_id=F("latest__gauge_mode__gauge"),
            gauge_name=F("latest__gauge_mode__gauge__name"),
            check_id=F("latest__gauge_check"),
        )
    )
    found: dict[int, dict[PartPosition, list[Mapping[str, Any]]]] = defaultdict(dict)
    for row in rows:
        places = found[row["car_id"]]
        places.setdefault(PartPosition(row["position"]), []).append(row)
    return {key: dict(places) for key, places in found.items()}


def _values(
    car: Car, stored: list[CarValue], fitted: Fitted, seal: Seal | None
) -> dict[str, ColumnValue]:
    values = {row.column: stored_value(row) for row in stored}
    if seal is not None:
        changed = _changed_since(seal, stored, fitted)
        values |= {
            column: value
            for column, value in sealed_values(seal.content).items()
            if value.source in {Source.TAKEN, Source.CARRIED} and column not in changed
        }
    for rows in fitted.values():
        for row in rows:
            values |= values_of_part(row)
    return values | over_the_tips(values, {Source.STORED}) | declared_values(car)


def _changed_since(seal: Seal, stored: list[CarValue], fitted: Fitted) -> set[str]:
    """Columns that a sealed sheet read and that may be otherwise by now."""
    sealed = json.loads(seal.content)["item"]["parts"]
    before = {PartPosition(part["position"]): part["tag"] for part in sealed}
    now = {position: rows[0]["tag"] for position, rows in fitted.items()}
    areas = {
        AREA_OF_POSITION[position]
        for position in {*before, *now}
        if before.get(position) != now.get(position)
    }
    areas |= {
        AREA_OF_POSITION[position]
        for position, rows in fitted.items()
        if any(row["taken_at"] and row["taken_at"] > seal.sealed_at for row in rows)
    }
    columns = {row.column for row in stored if row.taken_at > seal.sealed_at}
    areas |= {area for area in Area if columns & columns_of_area(area)}
    return columns.union(*(columns_of_area(area) for area in areas))
