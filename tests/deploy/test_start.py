"""The start command: the real one, on a port of its own, ended by its number."""

import os
import re
import signal
import stat
import subprocess
import sys
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from deploy import serve, start
from deploy.environment import RUN_LOCK, is_filled_from
from tests.deploy.servers import ROOT, SERVE, fetch, running


def test_start_serves_and_keeps_its_data_and_what_it_made(
    tmp_path: Path,
) -> None:
    data = tmp_path / "club"
    words = [*SERVE, "--port=0", f"--data={data}", "--no-demo"]
    with running(*words) as (_, address, lines):
        assert fetch(f"{address}ready") == (200, "ready\n")
        (begin,) = [line for line in lines if line.startswith("Begin your club: ")]
        assert fetch(begin.split()[3])[0] == 200
        status, page = fetch(f"{address}sign-in")
        assert status == 200
        # What goes over the loopback alone is overheard by nobody.
        assert "Not encrypted" not in page
        style = re.search(r'href="/?(static/[^"]+\.css)"', page)
        assert style is not None
        assert fetch(address + style[1])[0] == 200
    key = (data / "secret-key").read_bytes()
    collected = (data / "static" / "staticfiles.json").stat().st_mtime_ns
    with running(*words) as (_, address, _lines):
        assert fetch(f"{address}ready")[0] == 200
    assert (data / "secret-key").read_bytes() == key
    assert (data / "static" / "staticfiles.json").stat().st_mtime_ns == collected
    if os.name != "nt":
        assert stat.S_IMODE(data.stat().st_mode) == 0o700


class Browser:
    """A browser without scripts: cookies, and forms with their token."""

    def __init__(self, address: str) -> None:
        self.address = address
        self.open = urllib.request.build_opener(
            urllib.request.HTTPCookieProcessor()
        ).open

    def sign_in(self, name: str, word: str) -> int:
        """Send the form; 302: in, 200: a wrong password, 429: wait."""
        page = self.open(f"{self.address}sign-in").read().decode()
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
        assert token is not None
        typed = {"csrfmiddlewaretoken": token[1], "username": name, "password": word}
        form = urllib.parse.urlencode(typed | {"next": "/password"}).encode()
        try:
            answer = self.open(f"{self.address}sign-in", form)
        except urllib.error.HTTPError as refused:
            refused.close()
            return refused.code
        return 302 if answer.url.endswith("/password") else answer.status


MAKE_ROSA = """
from datetime import UTC, datetime
from inventory.models import Person
rosa = Person(sign_in_name="rosa", name="Rosa", joined_at=datetime.now(tz=UTC))
rosa.set_password("four quiet wheels turn")
rosa.save()
"""


def test_two_servers_count_failures_together_and_a_restart_forgets_none(
    tmp_path: Path,
) -> None:
    words = [*SERVE, "--port=0", f"--data={tmp_path}", "--no-demo"]
    right = "four quiet wheels turn"
    with running(*words) as (_, one, _lines), running(*words) as (_, two, _more):
        make_rosa(tmp_path)
        assert Browser(one).sign_in("rosa", right) == 302
        codes = [Browser(at).sign_in("rosa", "no") for at in (one, two, one, two, one)]
        assert codes == [200, 200, 200, 200, 429]
        assert Browser(two).sign_in("rosa", right) == 429
    with running(*words) as (_, again, _lines):
        assert Browser(again).sign_in("rosa", right) == 429


def make_rosa(data: Path) -> None:
    subprocess.run(
        [sys.executable, "manage.py", "shell", "--no-imports", "-c", MAKE_ROSA],
        cwd=ROOT,
        env=os.environ
        | {
            "DJANGO_SETTINGS_MODULE": "deploy.settings.local",
            "FEELERBOOK_DATA": str(data),
        },
        check=True,
        capture_output=True,
    )


def test_a_changed_static_file_is_collected_again(
    settings: Any, tmp_path: Path
) -> None:
    source = tmp_path / "source"
    source.mkdir()
    (source / "sheet.css").write_text("a { color: black }")
    settings.STATICFILES_DIRS = [source]
    settings.STATIC_ROOT = tmp_path / "static"
    settings.DATA_DIR = tmp_path
    kept = settings.STATIC_ROOT / "sheet.css"
    serve.collect_static_files()
    kept.unlink()
    serve.collect_static_files()
    assert not kept.exists()
    (source / "sheet.css").write_text("a { color: navy }")
    serve.collect_static_files()
    assert kept.read_text() == "a { color: navy }"


def test_start_ends_in_order_when_told_to(tmp_path: Path) -> None:
    words = [*SERVE, "--port=0", f"--data={tmp_path}", "--no-demo"]
    with running(*words) as (process, _, _lines):
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=60) == 0


def test_start_on_a_taken_port_says_so(tmp_path: Path) -> None:
    words = [*SERVE, "--no-demo"]
    with running(*words, "--port=0", f"--data={tmp_path / 'a'}") as (_, address, _l):
        port = address.rstrip("/").rpartition(":")[2]
        done = subprocess.run(
            [*words, f"--port={port}", f"--data={tmp_path / 'b'}"],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
        )
    assert done.returncode == 1
    assert f"Cannot serve at 127.0.0.1:{port}" in done.stdout
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(os.name == "nt", reason="Windows cannot exec")
def test_start_itself_hands_over_to_the_server(tmp_path: Path) -> None:
    if not is_filled_from(RUN_LOCK):
        # An environment made in another way; the whole-project run makes its own.
        options = start.arguments(["--port=0", f"--data={tmp_path}", "--no-demo"])
        code = "from deploy import start; from pathlib import Path; import sys;"
        code += f"o = start.arguments({['--port=0', f'--data={options.data}']});"
        code += "o.no_demo = True; start.hand_over(Path(sys.executable), o)"
        words = [sys.executable, "-c", code]
    else:
        words = [sys.executable, "deploy/start.py", "--port=0", "--no-demo"]
        words.append(f"--data={tmp_path}")
    with running(*words) as (_, address, _lines):
        assert fetch(f"{address}live") == (200, "live\n")


def test_options_have_the_promised_defaults() -> None:
    options = start.arguments([])
    assert (options.host, options.port, options.no_demo) == ("127.0.0.1", 8000, False)
    assert options.data == ROOT / "data"


def test_all_addresses_are_served_under_the_names_of_this_computer() -> None:
    hosts = list(serve.reachable_hosts("::"))
    assert len(hosts) == 3
    assert not hosts[0].startswith("0.")
    assert list(serve.reachable_hosts("192.0.2.7")) == ["192.0.2.7"]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("host", "is_private"),
    [("127.0.0.1", True), ("::1", True), ("localhost", True), ("192.0.2.7", False)],
)
def test_a_hall_gets_a_code_to_scan_and_a_warning(
    host: str,
    is_private: bool,  # noqa: FBT001
    capsys: pytest.CaptureFixture[str],
) -> None:
    serve.announce(host, port=8000)
    said = capsys.readouterr().out
    wanted = "[::1]" if ":" in host else host
    assert f"Feelerbook: http://{wanted}:8000/" in said
    assert ("Not encrypted" not in said) == is_private
    assert ("█" not in said) == is_private


@pytest.mark.django_db
def test_names_of_the_demo_are_shown_at_each_start(
    capsys: pytest.CaptureFixture[str], settings: Any, tmp_path: Path
) -> None:
    file = tmp_path / "demo-accounts.txt"
    file.write_text("Password of all: xyz\nrosa  member\n", encoding="utf-8")
    settings.DEMO_FILE = file
    serve.announce("127.0.0.1", port=8000)
    assert "rosa  member" in capsys.readouterr().out
