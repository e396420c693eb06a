"""Red says that a car, or a part for it, is refused, and says nothing else."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RULE = re.compile(r"([^{}]+)\{([^{}]*var\(--accent(?:-tint)?\)[^{}]*)\}")

MARKS = (
    ".mark-fail, .mark-conditional-fail, .mark-sent-back, "
    ":is(.is-worst, .fit-mark) .mark-no"
)
#: What is red, each for a refusal: a rule broken, a car sent back, a part that does
#: not fit.  The shape of each says it too, for whoever sees no red.
REFUSALS = {
    ".button.refuse",
    ".button.refuse:hover",
    ".table .is-worst",
    ".figure.is-worst, .is-worst > .figure",
    MARKS,
    ".d-accent",
    ".d-accent-thin",
    ".d-heavy",
    ".d-flag",
    ".d-accent-small",
    ".d-accent-text",
    ".s-refused",
    ".finding.is-worst",
    ".verdict.has-failing",
    ".rule.is-fails",
    ".rule.is-fails .rule-value, .rule.is-fails .rule-value small",
    ".hall .back",
    ".record-result.is-refusal",
    ".record-result.is-refusal > .record-decision",
    ".record-findings tr.is-worst",
    ".record-findings tr.is-worst > *",
    ".record-findings tr.is-worst :is(.number, .record-outcome)",
    ".dot.is-out::before",
}


def sources(*patterns: str) -> list[Path]:
    apps = ("deploy", "inspection", "inventory")
    return [
        one for app in apps for kind in patterns for one in (ROOT / app).rglob(kind)
    ]


def test_red_is_for_refusals_alone() -> None:
    found = set()
    for path in sources("*.css"):
        text = re.sub(r"/\*.*?\*/", "", path.read_text("utf-8"), flags=re.DOTALL)
        found |= {" ".join(rule[0].split()) for rule in RULE.findall(text)}
    assert found == REFUSALS


def test_no_other_colour_is_red() -> None:
    """The palette has one red, by day and by night; the rest is ink, paper and grey."""
    for path in sources("*.css"):
        text = re.sub(r"--accent[\w-]*: #\w+", "", path.read_text("utf-8"))
        for red, green, blue in re.findall(r"#(\w\w)(\w\w)(\w\w)\b", text):
            wide = int(red, 16) - min(int(green, 16), int(blue, 16))
            assert wide < 32, f"{path}: #{red}{green}{blue}"


def test_a_button_in_red_sends_a_car_back() -> None:
    refusing = re.compile(r'class="button[^"]*\brefuse\b')
    found = [
        one for one in sources("*.html") if refusing.search(one.read_text("utf-8"))
    ]
    assert [path.name for path in found] == ["verdict.html"]
