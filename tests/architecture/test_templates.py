"""Templates: short lines, indented as they nest, and light on the wire all the same."""

import re
from pathlib import Path

import pytest
from django.template import Engine
from django.template.base import Lexer, TokenType

from deploy.settings.lean_templates import unindented

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = sorted(
    path
    for app in ("deploy", "inspection", "inventory")
    for path in (ROOT / app / "templates").rglob("*.html")
)
MOST_COLUMNS = 120
STEP = 2
#: Blocks of Django's that hold markup; a message's lines are its own.
HOLDING = {"block", "for", "if", "with"}
BETWEEN = {"elif", "else", "empty"}


def test_no_line_is_longer_than_a_screen_is_wide() -> None:
    assert len(TEMPLATES) > 200
    found = [
        f"{path.relative_to(ROOT)}:{number}: {len(line)} columns"
        for path in TEMPLATES
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if len(line) > MOST_COLUMNS or line != line.rstrip()
    ]
    assert found == []


def misplaced(template: str) -> list[str]:
    """Give the tags that stand first on a line, and not under what they close."""
    lines = template.splitlines()
    found, opened, seen = [], [], 0
    for token in Lexer(template).tokenize():
        if token.token_type is not TokenType.BLOCK:
            continue
        name = token.contents.split()[0]
        number = token.lineno or 0
        line = lines[number - 1]
        indent = len(line) - len(line.lstrip())
        is_first = line.startswith("{% ", indent) and number != seen
        seen = number
        if name in HOLDING:
            opened.append((number, indent if is_first else None))
        elif name in BETWEEN or name.removeprefix("end") in HOLDING:
            start, under = opened[-1] if name in BETWEEN else opened.pop()
            if is_first and under not in {None, indent}:
                found.append(f"{number}: {name} of line {start}")
    return found


def test_a_tag_is_closed_under_where_it_was_opened() -> None:
    nested = "{% if a %}\n  {% if b %}\n    b\n  {% endif %}\n{% endif %}\n"
    assert misplaced(nested) == []
    assert misplaced(nested.replace("  {% endif", "{% endif")) == ["4: endif of line 2"]
    found = {
        str(path.relative_to(ROOT)): wrong
        for path in TEMPLATES
        if (wrong := misplaced(path.read_text("utf-8")))
    }
    assert found == {}


def test_lines_are_indented_by_twos() -> None:
    found = []
    for path in TEMPLATES:
        text = re.sub(
            r"<(pre|textarea)\b.*?</\1>|{% comment %}.*?{% endcomment %}",
            lambda m: "\n" * m[0].count("\n"),
            path.read_text("utf-8"),
            flags=re.DOTALL,
        )
        for number, line in enumerate(text.splitlines(), 1):
            indent = len(line) - len(line.lstrip())
            if indent % STEP or "\t" in line:
                found.append(f"{path.relative_to(ROOT)}:{number}")
    assert found == []


def test_a_message_over_several_lines_is_the_one_that_it_was_on_one() -> None:
    # Without `trimmed` its line breaks and its indent would be part of the message.
    message = re.compile(r"{% blocktranslate\b([^%]*|.*?)%}(.*?){% endblock", re.DOTALL)
    found = [
        (path.name, said[:60])
        for path in TEMPLATES
        for options, said in message.findall(path.read_text("utf-8"))
        if "\n" in said and "trimmed" not in options
    ]
    assert found == []


@pytest.mark.parametrize(
    ("written", "sent"),
    [
        (
            "<ul>\n  <li>\n    a  b\n  </li>\n</ul>\n",
            "<ul>\n<li>\na  b\n</li>\n</ul>\n",
        ),
        ("<p>\n  <pre>\n    a\n  </pre>\n  b", "<p>\n<pre>\n    a\n  </pre>\nb"),
        (
            "  <textarea\n  rows=2>\n  a</textarea>",
            "  <textarea\n  rows=2>\n  a</textarea>",
        ),
    ],
)
def test_what_is_sent_is_not_indented_but_where_blanks_are_shown(
    written: str, sent: str
) -> None:
    assert unindented(written) == sent


def test_the_service_reads_its_templates_so() -> None:
    source = (
        Engine.get_default().get_template("inspection/block/pieces/slot.html").source
    )
    assert "\n<div" in source
    assert "\n  <div" not in source
