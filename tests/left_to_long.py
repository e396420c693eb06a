"""
A pytest plugin: tests marked ``long`` run with ``--long`` alone.

A run without it says at its end, on one line, which it left; ``deploy/test.py`` says
so again at the end of everything.
"""

from collections import Counter
from typing import Any

import pytest

from deploy.test import LEFT_WORDS

LEFT = pytest.StashKey[list[str]]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.getgroup("feelerbook").addoption(
        "--long",
        action="store_true",
        help="run the tests as well that are too slow for each run",
    )


def pytest_configure(config: pytest.Config) -> None:
    config.stash[LEFT] = []


# Last: what is left out for another reason is not left to a longer run.
@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(
    config: pytest.Config, items: list[pytest.Item]
) -> None:
    if config.getoption("--long"):
        return
    if left := [item for item in items if item.get_closest_marker("long")]:
        config.hook.pytest_deselected(items=left)
        config.stash[LEFT] += [item.nodeid for item in left]
        items[:] = [item for item in items if item not in left]


def pytest_sessionfinish(session: pytest.Session) -> None:
    # One of xdist's workers: it is another process that reports.
    if (output := getattr(session.config, "workeroutput", None)) is not None:
        output["left_to_long"] = session.config.stash[LEFT]


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    # Each worker collects everything, so that one's word is enough.
    output = getattr(node, "workeroutput", {})
    node.config.stash[LEFT] = output.get("left_to_long", node.config.stash[LEFT])


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    if left := config.stash[LEFT]:
        terminalreporter.write_line(f"{LEFT_WORDS} {named(left)}")


def named(nodeids: list[str]) -> str:
    tests = Counter(nodeid.partition("[")[0] for nodeid in nodeids)
    each = (f"{test} ({n})" if n > 1 else test for test, n in sorted(tests.items()))
    return f"{len(nodeids)} of the tests: {', '.join(each)}"
