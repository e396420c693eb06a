"""
Serve one data folder with the local settings; what ``start.py`` hands over to.

Everything that a start needs happens in this one process, so that a second start
imports Django once: tables brought up to date, static files collected, the demo
club loaded into an empty database, the address printed, waitress serving.
"""

import argparse
import os
import select
import signal
import socket
import sys
import time
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from threading import Thread, Timer
from types import FrameType

import django
import segno
from django.apps import apps
from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.staticfiles.finders import get_finders
from django.core.management import CommandError, call_command, get_commands
from django.db import DatabaseError, connection
from django.urls import reverse
from django.utils import timezone
from waitress.server import create_server

from deploy.environment import state_of
from deploy.start import arguments
from deploy.starting.applications import wsgi_application
from deploy.starting.data_folder import (
    DEMO_ACCOUNTS,
    LOCK,
    KeptClub,
    club_in_use,
    make_private,
    use_club,
)
from deploy.starting.refusals import NoDemoClubError, StartRefusedError
from deploy.starting.turns import one_at_a_time
from inventory.compute.hosts import is_loopback

DEMO_COMMAND = "load_demo"
LARGEST_BODY = 25 * 1024 * 1024  # uploads are 20 MB at most

# A phone holds a few lines open and says nothing on them for minutes.  One channel
# is one number of an open file, and two more while it sends or is sent a large body.
CONNECTIONS = 1000
OPEN_FILES = 4 * CONNECTIONS
FILES_OF_THE_REST = 100
CONNECTIONS_BY_SELECT = 400  # select() takes 512 on Windows
IDLE_S = 60  # a sender that stops for so long is cut off
CHECK_AFTER_S = 3.0
BACKUP_LOOKED_FOR_EVERY_S = 60.0
# Reserved for documentation: asking the way there sends nothing anywhere.
NOWHERE = ("192.0.2.1", 9)


def main() -> int:
    options = arguments()
    hosts = list(reachable_hosts(options.host))
    os.environ["DJANGO_SETTINGS_MODULE"] = "deploy.settings.local"
    os.environ["FEELERBOOK_DATA"] = str(options.data)
    if options.backup_to:
        os.environ["FEELERBOOK_BACKUPS_TOO"] = str(options.backup_to)
    os.environ["FEELERBOOK_HOSTS"] = ",".join(hosts)
    signal.signal(signal.SIGTERM, stop)
    # What this process makes is its owner's alone.
    os.umask(0o077)
    try:
        if options.club:
            choose_club(options.data, KeptClub(options.club))
        prepare(options.data, with_demo=not options.no_demo)
        look_after_soon()
        Thread(target=keep_backups, daemon=True).start()
        return serve(options, address_host=hosts[0])
    except KeyboardInterrupt:
        return 0
    except Exception as error:
        sentence = sentence_of(error, options.data)
        if sentence is None:
            raise
        print(sentence, file=sys.stderr)
        return 1


def choose_club(folder: Path, club: KeptClub) -> None:
    """Serve the demo club of the folder from now on, or the one beside it."""
    if not (folder / DEMO_ACCOUNTS).exists():
        msg = (
            f"{folder} holds no demo club beside which there could be another. Start "
            "without --club; a club of your own begins with --no-demo --data FOLDER."
        )
        raise NoDemoClubError(msg)
    use_club(folder, club)


def prepare(folder: Path, *, with_demo: bool) -> None:
    """Make the folder ready to be served; a second start waits for the first."""
    make_private(folder)
    with one_at_a_time(folder / LOCK, say=lambda words: print(words, flush=True)):
        django.setup()
        bring_up_to_date(with_demo=with_demo)


def sentence_of(error: Exception, folder: Path) -> str | None:
    """Say what keeps a start from going on, if a person can mend it."""
    # Django's errors can be imported only when it is set up, or has said why not.
    from deploy.failures import AWAY, FULL, failure_of  # noqa: PLC0415

    if isinstance(error, StartRefusedError):
        return str(error)
    failure = failure_of(error)
    if failure is FULL:
        return (
            f"The disk that holds {folder} is full. Nothing that was kept is lost; "
            "make room, then start again."
        )
    if failure is AWAY or isinstance(error, PermissionError):
        return f"{folder} cannot be read or written: {error}."
    return None


def bring_up_to_date(*, with_demo: bool) -> None:
    """Migrate, collect the static files, and fill an empty database if wanted."""
    # Models can be imported only when Django is set up.
    from deploy.starting.upgrading import upgrade  # noqa: PLC0415

    upgrade()
    collect_static_files()
    is_first = club_in_use(settings.DATA_DIR) is KeptClub.FIRST
    is_empty = not get_user_model()._default_manager.exists()
    if with_demo and is_first and is_empty and DEMO_COMMAND in get_commands():
        print("Loading the demo club …", flush=True)
        call_command(DEMO_COMMAND)


def collect_static_files() -> None:
    """Collect what pages refer to, if it changed: it takes a third of a start."""
    mark = settings.DATA_DIR / "static-collected"
    state = static_state()
    if mark.exists() and mark.read_text(encoding="ascii") == state:
        return
    call_command("collectstatic", interactive=False, verbosity=0)
    mark.write_text(state, encoding="ascii")


def static_state() -> str:
    """Return a word that changes with any static file of the project."""
    return state_of(
        storage.path(path)
        for finder in get_finders()
        for path, storage in finder.list([])
    )


def serve(options: argparse.Namespace, *, address_host: str) -> int:
    try:
        server = create_server(
            wsgi_application(),
            host=options.host,
            port=options.port,
            threads=8,
            ident=None,
            max_request_body_size=LARGEST_BODY,
            connection_limit=connection_limit(),
            channel_timeout=IDLE_S,
            cleanup_interval=5,
            asyncore_use_poll=hasattr(select, "poll"),
        )
    except OSError as error:
        print(f"Cannot serve at {options.host}:{options.port}: {error}.")
        print("Is Feelerbook running already? Another port: --port 8001")
        return 1
    announce(address_host, port=server.effective_port)
    server.run()
    return 0


def look_after_soon() -> None:
    """Leave what a start looks after until the first pages are served."""
    later = Timer(CHECK_AFTER_S, look_after)
    later.daemon = True
    later.start()


def look_after() -> None:
    erase_old_people_meanwhile()
    check_seals_meanwhile()


def erase_old_people_meanwhile() -> None:
    """Erase whom the club keeps no longer; say so only where it could not be."""
    try:
        call_command("erase_old_people", by_itself=True, stdout=StringIO())
    except DatabaseError as error:
        print(f"People: nobody was erased, {error}.", flush=True)
    finally:
        connection.close()


def check_seals_meanwhile() -> None:
    """Check what was sealed, beside serving; say so only where something differs."""
    try:
        if apps.get_model("inspection", "Seal")._default_manager.exists():
            call_command("check_seals", after="start", stdout=StringIO())
    except CommandError as error:
        print(f"Seals: {error} The page “Seals” names them.", flush=True)
    except DatabaseError as error:
        print(f"Seals: not checked, {error}.", flush=True)
    finally:
        connection.close()


def keep_backups() -> None:
    """Look every minute whether a backup is due, for as long as this serves."""
    while True:
        time.sleep(BACKUP_LOOKED_FOR_EVERY_S)
        back_up_meanwhile()


def back_up_meanwhile() -> None:
    """Make a backup if one is due; what keeps it from being made is said each time."""
    # Models can be imported only when Django is set up.
    from deploy.keeping.scheduled import back_up_if_due  # noqa: PLC0415

    try:
        made = back_up_if_due(at=timezone.now())
        if made is not None and made.not_there_too:
            print(f"Backup: {made.not_there_too}", flush=True)
    except (StartRefusedError, DatabaseError) as error:
        print(f"Backup: {error}", flush=True)
    finally:
        connection.close()


def connection_limit() -> int:
    """Return how many connections this process may hold, asking for more files."""
    if os.name == "nt" or not hasattr(select, "poll"):
        return CONNECTIONS_BY_SELECT
    import resource  # noqa: PLC0415  not on Windows

    allowed, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    if allowed == resource.RLIM_INFINITY:
        return CONNECTIONS
    wanted = max(allowed, OPEN_FILES)
    if most != resource.RLIM_INFINITY:
        wanted = min(wanted, most)
    resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, most))
    return min(CONNECTIONS, (wanted - FILES_OF_THE_REST) // 3)


def announce(host: str, *, port: int) -> None:
    """Print the address, as a QR code for a hall too, and who can get in, and how."""
    address = f"http://{f'[{host}]' if ':' in host else host}:{port}/"
    beginning = beginning_at(address)
    if not is_loopback(host):
        segno.make(beginning or address).terminal(compact=True)
        print("Not encrypted: others on this network could read what you send.")
    if beginning:
        print(f"Begin your club: {beginning}   (good for 24 hours, and once)")
    print(f"Feelerbook: {address}   (Ctrl+C stops it)")
    if settings.DEMO_FILE.exists():
        say_of_demo()
    sys.stdout.flush()


def say_of_demo() -> None:
    """Print who gets into the demo club, or how to come back to it."""
    if club_in_use(settings.DATA_DIR) is KeptClub.OWN:
        print("The demo club is kept; back to it: python deploy/start.py --club demo")
        return
    print(settings.DEMO_FILE.read_text(encoding="utf-8").rstrip())
    print("A club of your own: python deploy/start.py --no-demo --data FOLDER")


def beginning_at(address: str) -> str:
    """Give the address that begins the club; empty where it has people already."""
    # Models can be imported only when Django is set up.
    from inventory.actions.people.beginning import make_beginning  # noqa: PLC0415
    from inventory.actions.refusals import RefusedError  # noqa: PLC0415

    try:
        code = make_beginning(at=timezone.now())
    except RefusedError:
        return ""
    return address + reverse("inventory:begin", args=[code]).lstrip("/")


def reachable_hosts(host: str) -> Iterator[str]:
    """Yield the names a browser may use for this address, the best one first."""
    if host not in {"0.0.0.0", "::"}:  # noqa: S104  compared, not bound
        yield host
        return
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(NOWHERE)
            yield probe.getsockname()[0]
        except OSError:
            yield "127.0.0.1"
    yield socket.gethostname()
    yield f"{socket.gethostname()}.local"


def stop(signal_number: int, frame: FrameType | None) -> None:
    """End as Ctrl+C does: waitress lets the running requests finish."""
    raise KeyboardInterrupt


if __name__ == "__main__":
    sys.exit(main())
