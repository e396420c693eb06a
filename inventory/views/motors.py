"""Hand-out motors: sets that are alike, and a draw that anyone can run again."""

from dataclasses import dataclass
from shlex import quote

from django.core.paginator import Paginator
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory.access import allow
from inventory.actions.draws import draw_lots, hand_out_lots, take_back_lots
from inventory.actions.refusals import RefusedError
from inventory.compute.errors import ComputeError
from inventory.compute.motors import draw_motors, match_motors
from inventory.compute.roles import Ability
from inventory.compute.stock import PartState
from inventory.files.exports import ExportTable
from inventory.forms.motors import DrawForm, MatchForm
from inventory.loaders.motors import MotorPool, load_pool
from inventory.models import Draw, DrawLot
from inventory.views.acts import act_of, refusals_told
from inventory.views.sent import export_form, sent_tables

DRAWS_A_PAGE = 25


@dataclass(frozen=True, kw_only=True)
class ShownSet:
    """A set of motors to choose, with what they range over."""

    number: int
    tags: str
    motors: list[tuple[str, float, float]]
    speed_range_rpm: float
    resistance_range_ohm: float


@require_GET
@allow(Ability.LOOK)
def draws(request: HttpRequest) -> HttpResponse:
    """List the draws."""
    draws = Draw.objects.select_related("by").annotate(lot_count=Count("lots"))
    draws = draws.order_by("-drawn_at", "-pk")
    page = Paginator(draws, DRAWS_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "inventory/motors/draws.html", {"page": page})


@require_GET
@allow(Ability.LOOK)
def export_draws(request: HttpRequest, form: str) -> HttpResponse:
    """Give every draw as a file, a driver with their motor a row."""
    lots = DrawLot.objects.select_related("draw__by", "motor")
    table = ExportTable(
        name="draws",
        headings=("draw", "drawn at", "drawn by", "seed", "place", "driver", "motor"),
        rows=[
            (
                lot.draw.name,
                lot.draw.drawn_at.isoformat(timespec="minutes"),
                lot.draw.by.name,
                lot.draw.seed,
                lot.position,
                lot.driver,
                lot.motor.tag,
            )
            for lot in lots.order_by("-draw__drawn_at", "-draw", "position")
        ],
    )
    return sent_tables(request, [table], export_form(form), "draws")


@require_http_methods(["GET", "POST"])
@allow(Ability.KEEP_PARTS)
def new_draw(request: HttpRequest) -> HttpResponse:
    """Find sets of motors that are alike, and draw out of one of them."""
    pool = load_pool()
    draw_form = DrawForm(request.POST or None)
    if draw_form.is_valid():
        with draw_form.refusing():
            made = draw_lots(draw_form.new_draw(), act=act_of(request))
            return redirect("inventory:draw", draw_id=made.pk)
    asked = "count" in request.GET
    form = MatchForm(request.GET if asked else _usual())
    sets, limit = _matched(form, pool) if form.is_valid() else ([], 0)
    context = {
        "pool": pool,
        "form": form,
        "draw_form": draw_form,
        "sets": sets,
        "set_limit": limit,
        "all_tags": " ".join(pool.tags),
        "chosen": request.POST.get("motors", sets[0].tags if sets else ""),
    }
    status = 422 if draw_form.errors or form.errors else 200
    return render(request, "inventory/motors/new_draw.html", context, status=status)


@require_GET
@allow(Ability.LOOK)
def draw(request: HttpRequest, draw_id: int) -> HttpResponse:
    """Show a draw, run again from its seed while it is looked at."""
    draw = get_object_or_404(Draw.objects.select_related("by"), pk=draw_id)
    lots = list(draw.lots.select_related("motor__motor", "person"))
    again = draw_motors(
        draw.seed,
        drivers=[lot.driver for lot in lots],
        motors=[*(lot.motor.tag for lot in lots), *draw.spare],
    )
    states = {lot.motor.state for lot in lots}
    context = {
        "draw": draw,
        "lots": lots,
        "is_same": [lot.motor for lot in again.lots] == [lot.motor.tag for lot in lots],
        "check_lines": check_lines(draw, lots),
        "all_in": states == {PartState.IN_STOCK},
        "some_out": PartState.WITH_MEMBER in states,
    }
    return render(request, "inventory/motors/draw.html", context)


@require_POST
@allow(Ability.KEEP_PARTS)
def hand_out(request: HttpRequest, draw_id: int) -> HttpResponse:
    """Hand all of a draw's motors out."""
    draw = get_object_or_404(Draw, pk=draw_id)
    with refusals_told(request):
        hand_out_lots(draw, act=act_of(request))
    return redirect("inventory:draw", draw_id=draw_id)


@require_POST
@allow(Ability.KEEP_PARTS)
def take_back(request: HttpRequest, draw_id: int) -> HttpResponse:
    """Take back those of a draw's motors that are out."""
    take_back_lots(get_object_or_404(Draw, pk=draw_id), act=act_of(request))
    return redirect("inventory:draw", draw_id=draw_id)


def check_lines(draw: Draw, lots: list[DrawLot]) -> list[str]:
    """Write what a shell needs to run a draw again; names are quoted for it."""
    drivers = [lot.driver for lot in lots]
    motors = sorted([*(lot.motor.tag for lot in lots), *draw.spare])
    seed = quote(draw.seed)
    return [
        f"for each in {' '.join(map(quote, names))}; do "
        f'printf "%s %s\\n" "$(printf %s {seed}"/{list_name}/$each" | sha256sum | '
        'cut -c1-64)" "$each"; done | sort'
        for list_name, names in (("driver", drivers), ("motor", motors))
    ]


def _usual() -> dict[str, str]:
    return {name: str(field.initial) for name, field in MatchForm.base_fields.items()}


def _matched(form: MatchForm, pool: MotorPool) -> tuple[list[ShownSet], int]:
    cleaned = form.cleaned_data
    try:
        matched = match_motors(
            pool.speed_rpm,
            pool.resistance_ohm,
            set_size=form.set_size,
            tolerance_rpm=cleaned["speed"],
            tolerance_ohm=cleaned["resistance"],
            group=pool.families,
        )
    except ComputeError as error:
        form.refuse(RefusedError.because(error))
        return [], 0
    sets = [
        ShownSet(
            number=number,
            tags=" ".join(pool.tags[place] for place in row),
            motors=[
                (
                    pool.tags[place],
                    float(pool.speed_rpm[place]),
                    float(pool.resistance_ohm[place]),
                )
                for place in row
            ],
            speed_range_rpm=float(matched.speed_range_rpm[number - 1]),
            resistance_range_ohm=float(matched.resistance_range_ohm[number - 1]),
        )
        for number, row in enumerate(matched.members.tolist(), 1)
    ]
    return sets, matched.set_limit
