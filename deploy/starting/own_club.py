"""
A club of one's own, begun beside the demo from a page of the running server.

Nothing is moved: a second file is readied by a child, and a word in the folder says
that it is the one in use.  Whatever serves the folder opens it at the next request;
the demo's file stays as it was, to the last byte.
"""

import os
import subprocess
import sys

from django.conf import settings
from django.utils.translation import gettext as _

from deploy.starting.data_folder import CHOSEN, KeptClub, club_in_use, use_club
from inspection.loaders.rulebooks.editions import forget_editions
from inventory.actions.refusals import RefusedError
from inventory.loaders.clocks import forget_zone

READIED_WITHIN_S = 300.0


def is_demo_in_use() -> bool:
    """Tell whether what is served is a demo club, which may be left."""
    demo = settings.DEMO_FILE
    if settings.INSTALLATION != "local" or demo is None or not demo.exists():
        return False
    return club_in_use(settings.DATA_DIR) is KeptClub.FIRST


def ready_own_club() -> str:
    """
    Make the file of the own club, and give the code at which it begins.

    Empty where it has people already.  Raises RefusedError where it cannot be made;
    nothing has changed then.
    """
    command = [sys.executable, "manage.py", "ready_own_club"]
    environment = os.environ | {
        CHOSEN: KeptClub.OWN.value,
        "DJANGO_SETTINGS_MODULE": "deploy.settings.local",
        "FEELERBOOK_DATA": str(settings.DATA_DIR),
    }
    try:
        done = subprocess.run(  # noqa: S603  our own command
            command,
            cwd=settings.BASE_DIR,
            env=environment,
            capture_output=True,
            text=True,
            timeout=READIED_WITHIN_S,
            check=True,
        )
    except (OSError, subprocess.SubprocessError) as error:
        lines = (getattr(error, "stderr", "") or str(error)).strip().splitlines()
        raise RefusedError(
            code="not_readied",
            sentence=_(
                "The new file in %(data_dir)s could not be made: %(one)s Nothing has "
                "changed; the demo club goes on."
            )
            % {"data_dir": settings.DATA_DIR, "one": lines[-1]},
        ) from error
    return done.stdout.strip()


def change_to_own_club() -> None:
    """Let each connection from now on open the own club's file."""
    use_club(settings.DATA_DIR, KeptClub.OWN)
    forget_zone()
    forget_editions()
