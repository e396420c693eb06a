"""A change of hands: another scrutineer goes on at the device that is on the block."""

from urllib.parse import urlencode

from django.contrib.auth import authenticate, login
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST
from django_otp import login as keep_factor

from inspection.actions.sheets import take_block_over
from inspection.forms.block import TYPED, TakeOverForm
from inspection.loaders.block.sheets import load_sheet
from inspection.models import Sheet
from inspection.views.block.pages import changes_of, no_sheet, open_sheet, wants_json
from inventory.access import allow, signed_in
from inventory.actions.audit import Act
from inventory.actions.people.second_factor import second_factor_of
from inventory.actions.people.sign_in import CODE_LASTS, make_take_over_code
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.models import Person
from inventory.views.acts import act_of, form_page

_BACKEND = "django.contrib.auth.backends.ModelBackend"
_MINUTE_S = 60


@require_POST
@allow(Ability.INSPECT_CARS)
def take_over(request: HttpRequest, number: str) -> HttpResponse:
    """
    Sign another scrutineer in here; the sheet and what is on the page stay.

    Without a script the block's own form asks for it, so that what is typed there and
    not taken yet comes along and stands in the field again.
    """
    is_asked = "who" in request.POST or wants_json(request)
    here = signed_in(request)
    form = TakeOverForm(request.POST if is_asked else None, here=here)
    sheet = None
    if form.is_valid():
        try:
            sheet = _changed_hands(request, number, form)
        except Sheet.DoesNotExist as error:
            raise no_sheet(number) from error
        except RefusedError as refusal:
            form.refuse(refusal)
    sentences = [str(error) for errors in form.errors.values() for error in errors]
    if wants_json(request):
        if sheet is None:
            return JsonResponse({"errors": sentences}, status=422)
        return JsonResponse({"errors": [], **changes_of(request, load_sheet(sheet))})
    typed = typed_of(request)
    if sheet is not None:
        address = reverse("inspection:block", args=[number])
        return redirect(f"{address}?{urlencode(typed)}" if typed else address)
    return form_page(
        request,
        form,
        "inspection/block/take_over.html",
        {"sheet": open_sheet(number), "typed": typed},
    )


def typed_of(request: HttpRequest) -> dict[str, str]:
    """Give what stands in the block's field, of which something is typed."""
    typed = {key: request.POST.get(key, "")[:200] for key in TYPED}
    if not typed["text"].strip() and not typed["high_text"].strip():
        return {}
    slips = {"slips": "two"} if typed["high_text"].strip() else {}
    return {key: text for key, text in typed.items() if text} | slips


@require_http_methods(["GET", "POST"])
@allow(Ability.INSPECT_CARS)
def take_over_code(request: HttpRequest) -> HttpResponse:
    """Show somebody, on their own phone, a code for another device; once."""
    code = ""
    if request.method == "POST":
        code = make_take_over_code(act=act_of(request))
    return render(
        request,
        "inspection/block/take_over_code.html",
        {"code": code, "minutes": int(CODE_LASTS.total_seconds()) // _MINUTE_S},
    )


def _changed_hands(request: HttpRequest, number: str, form: TakeOverForm) -> Sheet:
    """Sign the other person in if they are who they say; raises RefusedError."""
    who = authenticate(request, **form.credentials())
    if not isinstance(who, Person):
        raise RefusedError(
            code="not_proved",
            sentence=_(
                "This is neither the password of %(who)s nor a code of theirs that "
                "holds: a code lasts two minutes and is used once."
            )
            % {"who": form.cleaned_data["who"]},
            field="secret",
        )
    phone = second_factor_of(who)
    if phone is not None and form.is_by_password:
        raise RefusedError(
            code="second_factor_asked",
            sentence=_(
                "A password is not enough for %(who)s, who shows a code of their phone "
                "as well: take over by a code for another device."
            )
            % {"who": who},
            field="secret",
        )
    act = Act(by=who, at=timezone.now())
    sheet = take_block_over(number, before=signed_in(request), act=act)
    # Signing in begins a new session; the gauges at the block are the same.
    gauges = request.session.get("gauges", {})
    login(request, who, backend=_BACKEND)
    if phone is not None:
        # The code is from a page that was opened with it.
        keep_factor(request, phone)
    request.session["gauges"] = gauges
    return sheet
