"""What an address asks of which bag, and the answer."""

from dataclasses import dataclass

from django.http import Http404, QueryDict
from django.shortcuts import get_object_or_404

from inventory.actions.refusals import RefusedError
from inventory.compute.bag import (
    Asked,
    PairedBag,
    PairingWay,
    pair_bag,
    true_the_rest,
)
from inventory.compute.errors import ComputeError
from inventory.compute.stock import PartKind
from inventory.compute.truing import TruingPlan
from inventory.forms.pairing import DEFAULTS, PairingForm
from inventory.loaders.batches import LoadedBag
from inventory.models import Batch

LOOSE = "loose"


@dataclass(frozen=True, kw_only=True)
class Answer:
    """A bag, what was asked of it, and what was found."""

    loaded: LoadedBag
    asked: Asked
    found: PairedBag
    plan: TruingPlan | None
    track_mm: float | None


def batch_of(which: str) -> Batch | None:
    """Give the batch that an address names; none for all loose tyres."""
    if which == LOOSE:
        return None
    if not which.isdecimal() or len(which) > 18:
        msg = f"“{which}” is no batch."
        raise Http404(msg)
    return get_object_or_404(Batch, pk=int(which), kind=PartKind.TYRE)


def form_of(asked: QueryDict) -> PairingForm:
    """Give the form of what an address asks; the usual where it asks nothing."""
    if "way" in asked:
        return PairingForm(asked)
    usual = QueryDict(mutable=True)
    for name, value in DEFAULTS.items():
        usual.setlist(name, value if isinstance(value, list) else [value])
    for name in asked:
        usual.setlist(name, asked.getlist(name))
    return PairingForm(usual)


def answer_of(form: PairingForm, loaded: LoadedBag) -> Answer | None:
    """Pair a bag as a form asks; a refusal goes beside its field, and gives none."""
    if not form.is_valid():
        return None
    said, asked = form.cleaned_data, form.asked()
    try:
        found = pair_bag(loaded.bag, asked)
        plan = None
        # What other ways leave over may be a pair as it is: nothing is cut for that.
        is_pairs = asked.way is PairingWay.PAIRS
        if is_pairs and said["max_removal"] and said["floor"] is not None:
            plan = true_the_rest(
                loaded.bag,
                found,
                max_removal_um=said["max_removal"],
                floor_um=said["floor"],
                clean_up_um=said["clean_up"] or 0,
            )
    except ComputeError as error:
        form.refuse(RefusedError.because(error))
        return None
    return Answer(
        loaded=loaded, asked=asked, found=found, plan=plan, track_mm=said["track"]
    )
