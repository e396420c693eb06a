"""What is asked of the fit."""

from inspection.compute.fit import MOUNTING_SIZES
from inspection.forms.fit.questions import InHandForm, TypedCarForm
from inspection.forms.jig import JigForm
from inspection.loaders.fit.stock import FitKind
from inventory.api.foundation.shapes import Takes, Text, Word, like_form


class FitAsked(Takes):
    kind = Word(FitKind)
    wanted = Text(
        max_length=4, required=False, default="", help_text="Teeth that are wanted."
    )


_TypedCar = like_form(TypedCarForm, "TypedCar")
#: A car that is not kept here: its numbers, and its room for parts.
TypedCarAsked = type(
    "TypedCarAsked",
    (_TypedCar,),
    {size: Text(max_length=40, required=False) for size in MOUNTING_SIZES},
)
InHandAsked = like_form(InHandForm, "InHandAsked")
JigAsked = like_form(JigForm, "JigAsked")
