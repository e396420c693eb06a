"""The whole club as one file: taken out by an admin, brought into an empty one."""

from django.contrib import messages
from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.actions.moving.bringing_in import bring_in_club, open_archive
from inspection.actions.moving.taking_out import WHOLE_CLUB, take_out_club
from inspection.actions.seal_checks import check_seals
from inspection.compute.lists import ListKind
from inspection.compute.night import Occasion
from inspection.forms.moving.archive import BringInForm
from inspection.words.seal_checks import seals_hold_words
from inventory.access import allow, open_to_all, visitor
from inventory.actions.people.beginning import check_beginning
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.models import AuditRow
from inventory.views.acts import act_of, form_page
from inventory.views.sent import as_file

_BACKEND = "django.contrib.auth.backends.ModelBackend"


@require_GET
@allow(Ability.MOVE_CLUB)
def moving(request: HttpRequest) -> HttpResponse:
    """Say how a club is taken out and brought in, and when it was taken out last."""
    taken = AuditRow.objects.filter(event="data.exported", subject=WHOLE_CLUB)
    page = {"taken": taken.first(), "kinds": list(ListKind)}
    return render(request, "inspection/moving/moving.html", page)


@require_POST
@allow(Ability.MOVE_CLUB)
def take_out(request: HttpRequest) -> StreamingHttpResponse:
    """Give the whole club as an archive, written while it is sent."""
    act = act_of(request)
    name = f"club-{timezone.localtime(act.at):%Y-%m-%d}.zip"
    content = take_out_club(at=act.at, act=act)
    reply = StreamingHttpResponse(content, content_type="application/zip")
    return as_file(reply, name)


@never_cache
@require_http_methods(["GET", "POST"])
@open_to_all
def bring_in(request: HttpRequest, code: str) -> HttpResponse:
    """Let whoever begins a club bring in one that was taken out elsewhere."""
    if visitor(request) is not None:
        return redirect("/")
    at = timezone.now()
    try:
        check_beginning(code, at=at)
    except RefusedError as refusal:
        context = {"sentence": refusal.sentence}
        return render(request, "inventory/club/no_beginning.html", context, status=404)
    form = BringInForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        with form.refusing():
            archive = open_archive(form.cleaned_data["file"])
            brought = bring_in_club(archive, form.first_in(), at=at)
            login(request, brought.admin, backend=_BACKEND)
            _say_how_the_seals_are(request)
            return redirect("/")
    return form_page(
        request,
        form,
        "inspection/moving/bring_in.html",
        {"code": code},
    )


def _say_how_the_seals_are(request: HttpRequest) -> None:
    check = check_seals(Occasion.RESTORED, at=timezone.now(), act=act_of(request))
    if check.holds:
        held = seals_hold_words(check.seal_count)
        messages.success(request, f"{_('The club is in.')} {held}")
        return
    sentence = ngettext(
        "The club is in, as it was taken out. %(d)d difference stands against its "
        "seals: see Seals.",
        "The club is in, as it was taken out. %(d)d differences stand against its "
        "seals: see Seals.",
        check.difference_count,
    )
    messages.error(request, sentence % {"d": check.difference_count})
