"""What would make a car legal, in sentences: work on it, or a part that would help."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inspection.compute.quantities import Side, column_owner
from inspection.compute.remedies import Wish, Work, WorkRemedy
from inventory.compute.numbers import Unit, format_value
from inventory.words.enumerations import word_of

_WORK: Final[Mapping[Work, Promise]] = MappingProxyType(
    {
        Work.BALLAST: gettext_lazy("Add %(amount)s of ballast."),
        Work.LIGHTEN: gettext_lazy("Take %(amount)s off."),
        Work.SWAP_REAR: gettext_lazy("Swap the rear tyres left and right."),
        Work.SWAP_FRONT: gettext_lazy("Swap the front tyres left and right."),
        Work.TRUE_DOWN: gettext_lazy("True both rear tyres down to %(amount)s."),
        Work.RAISE_BODY: gettext_lazy("Raise the body by %(amount)s."),
        Work.ADD_GUIDE_SPACERS: gettext_lazy(
            "Add %(amount)s of spacers above the guide."
        ),
        Work.TAKE_GUIDE_SPACERS: gettext_lazy(
            "Take %(amount)s of spacers out above the guide."
        ),
        Work.TRUE_ONE: gettext_lazy(
            "True the %(end)s %(side)s tyre down to %(amount)s."
        ),
        Work.SHIM_AXLE: gettext_lazy(
            "Set the %(end)s axle %(amount)s lower at the %(side)s, by a shim over its "
            "bearing."
        ),
        Work.BEND: gettext_lazy(
            "Bend the chassis until the front %(side)s wheel is %(amount)s further "
            "down against the front %(other_side)s one."
        ),
        Work.STOP_ROCKING: gettext_lazy(
            "Bring down the wheel that is off: a shim over that end of its axle, the "
            "tyre beside it or across from it trued, or the chassis bent straight. The "
            "axle heights and tyres of all four wheels say by how much."
        ),
    }
)
_RAISED: Final = gettext_lazy(
    "Set the %(end)s axle %(amount)s higher at the %(side)s, by a shim under its "
    "bearing."
)
#: By the size meant; all else is a gear.
_WISHES: Final[Mapping[str, Promise]] = MappingProxyType(
    {
        "can_height": gettext_lazy("a motor with a can height %(range)s"),
        "can_width": gettext_lazy("a motor with a can width %(range)s"),
        "can_length": gettext_lazy("a motor with a can length %(range)s"),
        "motor_speed": gettext_lazy("a motor with a speed %(range)s"),
        "motor_resistance": gettext_lazy("a motor with a winding %(range)s"),
        "tyre_diameter_rear": gettext_lazy("rear tyres %(range)s"),
    }
)
_GEAR: Final = gettext_lazy("a gear %(range)s")


def work_words(one: WorkRemedy) -> str:
    """
    Say what to do to a car.

    Parameters
    ----------
    one : WorkRemedy
        The work, and how much of it.

    Returns
    -------
    str
        A sentence.
    """
    words = _RAISED if one.is_raised else _WORK[one.work]
    return str(words) % {"amount": _amount(one), **_wheel(one.column)}


def wish_words(one: Wish) -> str:
    """
    Name a part that would help, and its size.

    Parameters
    ----------
    one : Wish
        The part.

    Returns
    -------
    str
        As it stands in a list.
    """
    return str(_WISHES.get(one.column, _GEAR)) % {"range": _range(one)}


def _wheel(column: str) -> dict[str, str]:
    """Name one wheel, and the one across from it."""
    if not column:
        return {}
    key, side = column_owner(column)
    other = Side.LEFT if side is Side.RIGHT else Side.RIGHT
    return {
        "end": _("rear") if key.endswith("rear") else _("front"),
        "side": word_of(side or ""),
        "other_side": word_of(other),
    }


def _amount(one: WorkRemedy) -> str:
    """Write how much, to the step in which it is tried."""
    if not one.unit:
        return ""
    is_coarse = one.work is Work.RAISE_BODY or one.unit == Unit.GRAM
    return format_value(one.amount, decimals=1 if is_coarse else 2, unit=Unit(one.unit))


def _range(one: Wish) -> str:
    low, high = (
        None if end is None else f"{end:,.{one.decimals}f}"
        for end in (one.lowest, one.highest)
    )
    filled_in = {
        "low": low,
        "high": high,
        "unit": _("teeth") if one.unit == "teeth" else one.unit,
    }
    if low is None and high is None:
        return _("of any usual size")
    if low is None:
        return _("of at most %(high)s %(unit)s") % filled_in
    if high is None:
        return _("of at least %(low)s %(unit)s") % filled_in
    return _("of %(low)s to %(high)s %(unit)s") % filled_in
