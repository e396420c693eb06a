"""What is asked of which bag, by a page or a script, and the answer."""

import hashlib
from dataclasses import dataclass

from django.http import Http404, QueryDict
from django.shortcuts import get_object_or_404

from inventory.actions.refusals import RefusedError
from inventory.compute.errors import ComputeError
from inventory.compute.pairing import (
    Asked,
    Bag,
    GroupBy,
    NotSaidOfTheBagError,
    PairedBag,
    PairingWay,
    TruingPlan,
    pair_bag,
    true_the_rest,
)
from inventory.compute.stock import PartKind
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


def form_of(asked: QueryDict, bag: Bag) -> PairingForm:
    """Give the form of what an address asks; the usual where it asks nothing."""
    if "way" in asked:
        return PairingForm(asked, bag=bag)
    usual = QueryDict(mutable=True)
    for name, value in DEFAULTS.items():
        usual[name] = value
    for name in asked:
        usual.setlist(name, asked.getlist(name))
    if "group_by" not in asked:
        usual.setlist("group_by", [group.value for group in GroupBy if bag.says(group)])
    return PairingForm(usual, bag=bag)


def answer_of(form: PairingForm, loaded: LoadedBag) -> Answer | None:
    """Pair a bag as a form asks; a refusal goes beside its field, and gives none."""
    if not form.is_valid():
        return None
    cleaned, asked = form.cleaned_data, form.asked()
    try:
        paired = pair_bag(loaded.bag, asked)
        plan = None
        # What other ways leave over may be a pair as it is: nothing is cut for that.
        is_pairs = asked.way is PairingWay.PAIRS
        if is_pairs and cleaned["max_removal"] and cleaned["floor"] is not None:
            plan = true_the_rest(
                loaded.bag,
                paired,
                max_removal_um=cleaned["max_removal"],
                floor_um=cleaned["floor"],
                clean_up_um=cleaned["clean_up"] or 0,
            )
    except NotSaidOfTheBagError as error:
        form.refuse(RefusedError.because(error, field="group_by"))
        return None
    except ComputeError as error:
        form.refuse(RefusedError.because(error))
        return None
    return Answer(
        loaded=loaded, asked=asked, found=paired, plan=plan, track_mm=cleaned["track"]
    )


def seen_as(loaded: LoadedBag, paired: PairedBag) -> str:
    """Hash which parts stand in which pair, so that what was looked at is confirmed."""
    rows = [
        [loaded.part_ids[place] for place in row] for row in paired.members.tolist()
    ]
    return hashlib.sha256(repr(rows).encode()).hexdigest()
