"""
What judging costs beside another state of the code, 10,000 cars × 40 rules.

Run as ``python -m tests.bench.bench_beside FOLDER``, the folder being a checkout of the
other state (``git worktree add FOLDER COMMIT``).  Both are run in turn, five times, by
the user's processor time; the same cars and limits, one car in twenty near each limit.
Prints ratios, asserts nothing.
"""

import json
import resource
import subprocess
import sys
from pathlib import Path

import numpy as np

from inspection.compute.judging import DecisionRule
from tests.bench.bench_risk import near_rules
from tests.bench.bench_rules import field_of

ROUNDS = 3
#: Runs in either folder: takes limits, tells seconds of the user's time.
INSIDE = """
import json, resource, sys
from dataclasses import replace
import numpy as np
from inspection.compute.judging.evaluation import evaluate
from inspection.compute.judging import DecisionRule
from tests.bench.bench_rules import field_of, rules_of
said = json.load(sys.stdin)
field = field_of(10_000, gauges="usual")
rules = replace(
    rules_of(field),
    lower=np.array(said["lower"], dtype=float),
    upper=np.full(len(said["lower"]), np.nan),
    decision_rule=DecisionRule(said["rule"]),
)
evaluate(rules, field)
start = resource.getrusage(resource.RUSAGE_SELF).ru_utime
evaluate(rules, field)
print(resource.getrusage(resource.RUSAGE_SELF).ru_utime - start)
"""


def limits() -> list[float]:
    lower = near_rules(field_of(10_000, gauges="usual")).lower
    return [float(one) for one in lower]


def seconds(folder: Path, said: str) -> float:
    done = subprocess.run(
        [sys.executable, "-c", INSIDE],
        cwd=folder,
        input=said,
        capture_output=True,
        text=True,
        check=True,
    )
    return float(done.stdout.split()[-1])


def main(other: Path) -> None:
    lower = limits()
    for rule in DecisionRule:
        said = json.dumps({"lower": lower, "rule": str(rule)})
        runs = [
            (seconds(other, said), seconds(Path.cwd(), said)) for _ in range(ROUNDS)
        ]
        before, now = (min(times) for times in zip(*runs, strict=True))
        ratio = float(np.median([after / first for first, after in runs]))
        print(
            f"{rule}: {before:.2f} s there, {now:.2f} s here, least of {ROUNDS}; "
            f"median ratio {ratio:.2f}, of the least {now / before:.2f}"
        )
    used = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    print(f"{used:.0f} s in all")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
