"""Cars as they are known between the nights: what a part must fit, and the rules."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final

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

from inspection.compute.fit import Envelope, Mounting
from inspection.compute.judging import DecisionRule, Rules
from inspection.compute.night import PartPosition
from inspection.compute.quantities import (
    OFF_THE_BLOCK,
    Source,
    Witness,
    nearest,
)
from inspection.compute.rulebooks import Stage
from inspection.compute.stance import Field
from inspection.compute.what_if import Masses, stacked
from inspection.loaders.block.car_words import declared_values
from inspection.loaders.block.fields import field_of
from inspection.loaders.block.values import (
    ColumnValue,
    over_the_tips,
    stored_value,
    values_of_part,
)
from inspection.loaders.fit.parts import (
    columns_of_part,
    fact_column,
    gears_of,
    motors_of,
    pinions_of,
)
from inspection.loaders.fit.still_so import Fitted, PartRows, still_so
from inspection.loaders.rulebooks.editions import (
    LoadedEdition,
    LoadedRule,
    load_edition,
    rules_as_arrays,
    rules_of_field,
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
from inventory.compute.numbers import from_millionths
from inventory.compute.stock import KINDS, PartKind, PartQuantity

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
                layout=self.car.layout,
                carrier=self.car.front_carrier,
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
    return rules_of_field(edition, rules, field, stage=stage)


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
    return from_millionths(masses[0]) if masses else np.nan


def envelope_of_cars(cars: Sequence[CarNow]) -> Envelope:
    """Put cars that are judged by one edition into one envelope, a row each."""
    edition = cars[0].edition
    rules = rules_together(edition)
    asked = [{rule.pk for rule in car.rules} for car in cars]
    applies = np.array([[rule.pk in some for rule in rules] for some in asked])
    rulebook = replace(no_rules(), applies=np.ones((len(cars), 0), dtype=np.bool_))
    if edition is not None and rules:
        rulebook = rules_as_arrays(
            edition,
            rules,
            stage=Stage.BEFORE,
            columns=cars[0].field.columns,
            applies=applies,
        )
    envelopes = [car.envelope for car in cars]
    return Envelope(
        car=beside(*(car.field for car in cars)),
        rulebook=rulebook,
        mounting=stacked([one.mounting for one in envelopes]),
        gear=stacked([one.gear for one in envelopes]),
        pinion=stacked([one.pinion for one in envelopes]),
        motor=stacked([one.motor for one in envelopes]),
        masses=Masses(
            pair_g=np.array([one.masses.pair_g for one in envelopes]),
            gear_g=np.array([one.masses.gear_g for one in envelopes]),
            motor_g=np.array([one.masses.motor_g for one in envelopes]),
        ),
    )


def rules_together(edition: LoadedEdition | None) -> tuple[LoadedRule, ...]:
    """Give the rules of an envelope of many cars: a car's own are some of them."""
    return () if edition is None else edition.at(Stage.BEFORE)


def beside(*fields: Field) -> Field:
    """Put fields of cars under each other."""

    def rows(name: str) -> NDArray[Any]:
        return np.concatenate([getattr(field, name) for field in fields])

    return Field(
        columns=fields[0].columns,
        value=rows("value"),
        random=rows("random"),
        systematic=rows("systematic"),
        gauge=rows("gauge"),
        bound=rows("bound"),
    )


def load_cars(cars: QuerySet[Car]) -> list[CarNow]:
    """Load cars with all that is known of them; as many queries for one as for all."""
    rows = list(
        cars.annotate(edition_id=_edition_of_car(), seal_id=_last_seal_of_car())
    )
    keys = [car.pk for car in rows]
    columns_by_car = {car.pk: vars(car) for car in rows}
    editions = _editions({row["edition_id"] for row in columns_by_car.values()})
    seals = Seal.objects.select_related("signed").in_bulk(
        [row["seal_id"] for row in columns_by_car.values() if row["seal_id"]]
    )
    stored, fitted, rooms = _stored(keys), load_fitted(keys), load_rooms(keys)
    return [
        CarNow(
            car=car,
            edition=editions.get(columns_by_car[car.pk]["edition_id"]),
            values=_values(
                car,
                stored.get(car.pk, []),
                fitted.get(car.pk, {}),
                seals.get(columns_by_car[car.pk]["seal_id"]),
            ),
            fitted=fitted.get(car.pk, {}),
            room_mm=rooms.get(car.pk, {}),
        )
        for car in rows
    ]


def load_in_order(cars: Iterable[Car]) -> list[CarNow]:
    """Load some cars with all that is known of them, in the order given."""
    place = {car.pk: at for at, car in enumerate(cars)}
    wanted = Car.objects.filter(pk__in=place).select_related("owner", "race_class")
    return sorted(load_cars(wanted), key=lambda one: place[one.car.pk])


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
    edition_by_key = Edition.objects.select_related("rulebook").in_bulk(wanted)
    return {key: load_edition(edition) for key, edition in edition_by_key.items()}


def _stored(keys: Sequence[int]) -> dict[int, list[CarValue]]:
    rows = CarValue.objects.current().filter(car__in=keys).select_related("by")
    values_by_car: dict[int, list[CarValue]] = defaultdict(list)
    for row in rows.select_related("gauge_mode__gauge"):
        values_by_car[row.car_id].append(row)
    return values_by_car


def load_rooms(keys: Sequence[int]) -> dict[int, dict[str, float]]:
    """Load the room that cars have for parts, mm; infinite where nothing is there."""
    sizes_by_car: dict[int, dict[str, float]] = defaultdict(dict)
    for row in RoomSize.objects.current().filter(car__in=keys):
        size = np.inf if row.value is None else from_millionths(row.value)
        sizes_by_car[row.car_id][row.size] = size
    return sizes_by_car


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
            quantity=F("latest__quantity"),
            value=F("latest__value"),
            random=F("latest__random"),
            systematic=F("latest__systematic"),
            taken_at=F("latest__taken_at"),
            mode_id=F("latest__gauge_mode"),
            gauge_name=F("latest__gauge_mode__gauge__name"),
            check_id=F("latest__gauge_check"),
            **{
                fact_column(kind, fact.name): F(f"part__{kind.value}__{fact.name}")
                for kind, declared in KINDS.items()
                for fact in declared.fact_list
            },
        )
    )
    parts_by_car: dict[int, dict[PartPosition, list[Mapping[str, Any]]]] = defaultdict(
        dict
    )
    for row in rows:
        places = parts_by_car[row["car_id"]]
        places.setdefault(PartPosition(row["position"]), []).append(row)
    return {key: dict(places) for key, places in parts_by_car.items()}


def _values(
    car: Car, stored: list[CarValue], fitted: Fitted, seal: Seal | None
) -> dict[str, ColumnValue]:
    of_parts: dict[str, ColumnValue] = {}
    for rows in fitted.values():
        for row in rows:
            of_parts |= values_of_part(row)
    values = nearest(
        {
            Witness.STORED: {row.column: stored_value(row) for row in stored},
            Witness.READINGS: still_so(seal, stored, fitted) if seal else {},
            Witness.PARTS: of_parts,
        },
        OFF_THE_BLOCK,
    )
    return values | over_the_tips(values, {Source.STORED}) | declared_values(car)
