"""
Serve one data folder with the local settings; what ``start.py`` hands over to.

Everything that a start needs happens in this one process, so that a second start
imports Django once: tables brought up to date, static files collected, the demo
club loaded into an empty database, the address printed, waitress serving.
"""

import argparse
import hashlib
import ipaddress
import os
import signal
import socket
import sys
from collections.abc import Iterator
from types import FrameType

import django
import segno
from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command, get_commands
from django.core.wsgi import get_wsgi_application
from waitress.server import create_server

from deploy.start import arguments

DEMO_COMMAND = "load_demo"
LARGEST_BODY = 25 * 1024 * 1024  # uploads are 20 MB at most
# Reserved for documentation: asking the way there sends nothing anywhere.
NOWHERE = ("192.0.2.1", 9)


def main() -> int:
    options = arguments()
    hosts = list(reachable_hosts(options.host))
    os.environ["DJANGO_SETTINGS_MODULE"] = "deploy.settings.local"
    os.environ["FEELERBOOK_DATA"] = str(options.data)
    os.environ["FEELERBOOK_HOSTS"] = ",".join(hosts)
    signal.signal(signal.SIGTERM, stop)
    try:
        django.setup()
        bring_up_to_date(with_demo=not options.no_demo)
        return serve(options, address_host=hosts[0])
    except KeyboardInterrupt:
        return 0


def bring_up_to_date(*, with_demo: bool) -> None:
    """Migrate, collect the static files, and fill an empty database if wanted."""
    call_command("migrate", interactive=False, verbosity=0)
    collect_static_files()
    is_empty = not get_user_model()._default_manager.exists()
    if with_demo and is_empty and DEMO_COMMAND in get_commands():
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
    files = [
        storage.path(path)
        for finder in get_finders()
        for path, storage in finder.list([])
    ]
    seen = [(name, os.stat(name).st_mtime_ns) for name in sorted(files)]
    return hashlib.sha256(repr(seen).encode()).hexdigest()


def serve(options: argparse.Namespace, *, address_host: str) -> int:
    try:
        server = create_server(
            get_wsgi_application(),
            host=options.host,
            port=options.port,
            threads=8,
            ident=None,
            max_request_body_size=LARGEST_BODY,
        )
    except OSError as error:
        print(f"Cannot serve at {options.host}:{options.port}: {error}.")
        print("Is Feelerbook running already? Another port: --port 8001")
        return 1
    announce(address_host, port=server.effective_port)
    server.run()
    return 0


def announce(host: str, *, port: int) -> None:
    """Print the address, for a hall its QR code too, and the demo's way in."""
    address = f"http://{f'[{host}]' if ':' in host else host}:{port}/"
    if not is_loopback(host):
        segno.make(address).terminal(compact=True)
        print("Plain HTTP: anyone on this network can read what is sent.")
    print(f"Feelerbook: {address}   (Ctrl+C stops it)")
    if settings.DEMO_FILE.exists():
        print(settings.DEMO_FILE.read_text(encoding="utf-8").rstrip())
    sys.stdout.flush()


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


def is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def stop(signal_number: int, frame: FrameType | None) -> None:
    """End as Ctrl+C does: waitress lets the running requests finish."""
    raise KeyboardInterrupt


if __name__ == "__main__":
    sys.exit(main())
