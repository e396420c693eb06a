"""Motor seals of a motor, on its page."""

from django import template
from django.db.models import QuerySet

from inspection.loaders.block.motor_seals import motor_seals_of_motor
from inspection.models import MotorSeal
from inventory.models import Part

register = template.Library()


@register.simple_tag
def motor_seals_of(part: Part) -> QuerySet[MotorSeal]:
    """Give the seals that were put on a motor, the newest first."""
    return motor_seals_of_motor(part.pk)
