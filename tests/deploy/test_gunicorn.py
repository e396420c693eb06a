"""The server of the shared installation, as far as a page would notice it."""

import http.client
import os
import time
from pathlib import Path

import pytest

from tests.deploy.servers import gunicorn

IDLE_S = 3  # gunicorn's built-in limit is 2; a person types a reading in 4 to 6
ENVIRONMENT = {
    "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
    "FEELERBOOK_WORKERS": "1",
}
pytestmark = pytest.mark.skipif(os.name == "nt", reason="gunicorn has no Windows")


def test_connection_outlives_the_pause_between_two_readings(tmp_path: Path) -> None:
    with gunicorn(tmp_path, ENVIRONMENT) as (_, port):
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        connection.request("GET", "/live")
        assert connection.getresponse().read() == b"live\n"
        line = connection.sock
        time.sleep(IDLE_S)
        connection.request("GET", "/live")
        assert connection.getresponse().read() == b"live\n"
        assert connection.sock is line
        connection.close()


def test_nobody_steers_the_server_by_a_socket(tmp_path: Path) -> None:
    # Its control socket stands in the home or in XDG_RUNTIME_DIR unless it is off.
    homes = {"HOME": str(tmp_path), "XDG_RUNTIME_DIR": str(tmp_path / "run")}
    (tmp_path / "run").mkdir()
    with gunicorn(tmp_path, ENVIRONMENT | homes) as (process, _):
        sockets = Path("/proc/net/unix").read_text(encoding="ascii")
        assert process.poll() is None
        assert not [path for path in tmp_path.rglob("*") if path.is_socket()]
        assert str(tmp_path) not in sockets
