"""Many people at once: the same call from several threads, started together."""

import threading
from collections.abc import Callable
from typing import TypeVar

from django.db import connection

from inventory.actions.refusals import RefusedError

T = TypeVar("T")


def at_once(calls: list[Callable[[], T]]) -> tuple[list[T], list[RefusedError]]:
    """
    Run the calls at the same moment; give what they returned and what was refused.

    Anything but a refusal is raised again in the test.
    """
    gate = threading.Barrier(len(calls))
    done: list[T] = []
    refused: list[RefusedError] = []
    broken: list[BaseException] = []

    def run(call: Callable[[], T]) -> None:
        gate.wait(timeout=30)
        try:
            done.append(call())
        except RefusedError as refusal:
            refused.append(refusal)
        except BaseException as error:
            broken.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(call,)) for call in calls]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    if broken:
        raise broken[0]
    return done, refused
