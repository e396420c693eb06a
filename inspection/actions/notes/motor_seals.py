"""Motor seals: put on by number, broken with a reason."""

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.compute.night import PartPosition
from inspection.loaders.block.motor_seals import unbroken_seals
from inspection.models import BrokenSeal, Car, FittedPart, MotorSeal
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError, reason_given


@transaction.atomic
def put_on_motor_seal(car: Car, number: str, *, act: Act) -> MotorSeal:
    """
    Put a seal on the motor of a car.

    Writes a MotorSeal; audits ``motor.sealed``.  Raises RefusedError without a number,
    when a seal of that number was put on before, or the motor has one that is whole.
    """
    trimmed = number.strip()
    if not trimmed:
        raise RefusedError(
            code="number_missing",
            sentence=_("Type the number that stands on the seal."),
            field="number",
        )
    # The car's row is the queue: two seals are not put on one motor at once.
    Car.objects.select_for_update().get(pk=car.pk)
    used = (
        MotorSeal.objects.filter(number__iexact=trimmed).select_related("car").first()
    )
    if used is not None:
        raise RefusedError(
            code="number_used",
            sentence=_(
                "Seal %(used)s was put on car %(car)s on %(at)s; a number is used once."
            )
            % {"used": used.number, "car": used.car, "at": f"{used.at:%Y-%m-%d}"},
            field="number",
        )
    fitted = FittedPart.objects.filter(
        car=car, position=PartPosition.MOTOR, removed_at=None
    ).first()
    motor_id = fitted.part_id if fitted else None
    if whole := unbroken_seals(car.pk, motor_id):
        raise RefusedError(
            code="sealed_already",
            sentence=_(
                "Seal %(number)s is on this motor; say first when and why it was "
                "broken."
            )
            % {"number": whole[0].number},
            field="number",
        )
    seal = MotorSeal.objects.create(
        number=trimmed, car=car, motor_id=motor_id, by=act.by, at=act.at
    )
    record_event("motor.sealed", subject=car, act=act, number=trimmed)
    return seal


@transaction.atomic
def break_motor_seal(seal: MotorSeal, *, reason: str, act: Act) -> BrokenSeal:
    """
    Say that a motor seal is broken, and why.

    Writes a BrokenSeal; audits ``motor.seal_broken``.  Raises RefusedError without a
    reason, or when it was broken before.
    """
    why = reason_given(reason)
    Car.objects.select_for_update().get(pk=seal.car_id)
    before = BrokenSeal.objects.filter(motor_seal=seal).select_related("by").first()
    if before is not None:
        raise RefusedError(
            code="broken_already",
            sentence=_("Seal %(seal)s was broken before: %(by)s said so, %(reason)s.")
            % {"seal": seal.number, "by": before.by, "reason": before.reason},
        )
    broken = BrokenSeal.objects.create(
        motor_seal=seal, by=act.by, at=act.at, reason=why
    )
    record_event("motor.seal_broken", subject=seal.car, act=act, number=seal.number)
    return broken
