"""Motor seals: those of a car or a motor, and those that are whole."""

import datetime as dt
from collections.abc import Iterable

from django.db.models import Q, QuerySet

from inspection.compute.night import PartPosition
from inspection.models import Car, FittedPart, MotorSeal


def motor_seals_of_car(car: Car) -> QuerySet[MotorSeal]:
    """Give the seals put on in a car, and those of the motor it has now."""
    now = FittedPart.objects.filter(
        car=car, position=PartPosition.MOTOR, removed_at=None
    )
    return _in_full().filter(Q(car=car) | Q(motor__in=now.values("part")))


def motor_seals_of_motor(part_id: int) -> QuerySet[MotorSeal]:
    """Give the seals that were put on a motor, the newest first."""
    return _in_full().filter(motor=part_id)


def unbroken_seals(car_id: int, motor_id: int | None) -> QuerySet[MotorSeal]:
    """
    Give the whole seals of a car with this motor, or with one that nobody knows.

    A seal goes with its motor; where no motor is known, with the car.
    """
    return _on(car_id, motor_id).filter(broken=None)


def whole_and_broken(
    car_id: int, motor_id: int | None
) -> tuple[list[MotorSeal], MotorSeal | None]:
    """
    Give the whole seals of such a motor, and where there is none the one last broken.

    A motor whose seal was broken is not one that never had any.
    """
    seals = list(_on(car_id, motor_id).select_related("broken"))
    whole = [seal for seal in seals if not seal.is_broken]
    return whole, None if whole or not seals else seals[0]


def whole_then(
    seals: Iterable[MotorSeal], at: dt.datetime, car_id: int, motor_id: int | None
) -> list[MotorSeal]:
    """Give the seals that were on a motor, and whole, at a time, by their numbers."""
    whole = (
        seal
        for seal in seals
        if seal.motor_id == motor_id
        and (motor_id is not None or seal.car_id == car_id)
        and seal.at <= at
        and not (seal.is_broken and seal.broken.at <= at)
    )
    return sorted(whole, key=lambda seal: seal.number)


def _on(car_id: int, motor_id: int | None) -> QuerySet[MotorSeal]:
    if motor_id is not None:
        return MotorSeal.objects.filter(motor=motor_id)
    return MotorSeal.objects.filter(car=car_id, motor=None)


def _in_full() -> QuerySet[MotorSeal]:
    return MotorSeal.objects.select_related("car", "motor", "by", "broken__by")
