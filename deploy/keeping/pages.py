"""The admin's page of backups: the last one, those kept, one made now, one to take."""

import logging

from django.conf import settings
from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from deploy.keeping.backups import backups_in, make_backup, note_backup
from deploy.keeping.manifest import NoBackupError, Why
from deploy.keeping.scheduled import last_made
from inventory.access import allow
from inventory.actions.audit import record_export
from inventory.compute.roles import Ability
from inventory.views.acts import act_of

log = logging.getLogger(__name__)


@require_GET
@allow(Ability.MOVE_CLUB)
def backups(request: HttpRequest) -> HttpResponse:
    """Show when the club was backed up last, and what is kept here."""
    place, second = settings.BACKUP_FOLDER, settings.BACKUP_FOLDER_TOO
    shown = {
        "place": place,
        "second": second,
        "is_second_away": second is not None and not second.is_dir(),
        "last": last_made(),
        "kept": backups_in(place) if place is not None else [],
    }
    return render(request, "keeping/backups.html", shown)


@require_POST
@allow(Ability.MOVE_CLUB)
def back_up(request: HttpRequest) -> HttpResponse:
    """Make a backup now."""
    try:
        made = make_backup(Why.ASKED, at=timezone.now())
    except NoBackupError as error:
        log.warning("No backup: %s", error)
        messages.error(request, str(error))
        return redirect("backups")
    note_backup(made)
    if made.not_there_too:
        messages.error(request, made.not_there_too)
    messages.success(request, _("Backed up."))
    return redirect("backups")


@require_POST
@allow(Ability.MOVE_CLUB)
def take_backup(request: HttpRequest, name: str) -> FileResponse | HttpResponse:
    """Give one of the kept backups as a file."""
    place = settings.BACKUP_FOLDER
    here = backups_in(place) if place is not None else []
    path_by_name = {one.path.name: one.path for one in here}
    if name not in path_by_name:
        messages.error(request, _("That backup is not kept any more."))
        return redirect("backups")
    record_export("backup", act=act_of(request), form="zip")
    return FileResponse(
        path_by_name[name].open("rb"), as_attachment=True, filename=name
    )
