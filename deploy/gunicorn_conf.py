"""
How gunicorn serves the shared installation, behind a proxy on the same machine.

``gunicorn --config deploy/gunicorn_conf.py deploy.wsgi``
"""

import os
import subprocess
import sys
from typing import Any

OLDER_THAN_THE_DATABASE = 3

bind = os.environ.get("FEELERBOOK_BIND", "127.0.0.1:8000")
workers = int(os.environ.get("FEELERBOOK_WORKERS", "2"))
worker_class = "gthread"
threads = 4

# Two seconds, the built-in value, closes the line between two readings: a person
# types one in four to six, and the next would meet a closed socket.
keepalive = 75
timeout = 60
graceful_timeout = 30

# Only the proxy may say which scheme the browser used.
forwarded_allow_ips = os.environ.get("FEELERBOOK_PROXIES", "127.0.0.1")

# A worker is renewed now and then, not all at the same moment.
max_requests = 10_000
max_requests_jitter = 1_000

# Nobody steers the running server by a socket; signals do.
control_socket_disable = True

accesslog = None
errorlog = "-"


def on_starting(server: Any) -> None:
    """Refuse to serve a database that a newer version has changed."""
    # In a process of its own: what opens a pool of connections must not be forked.
    command = [sys.executable, "manage.py", "upgrade", "--only-check"]
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    if done.returncode == OLDER_THAN_THE_DATABASE:
        sys.exit(done.stderr.strip())
