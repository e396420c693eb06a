"""Sentences shown to people: marked for translation, and none that was replaced."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps

ROOT = Path(__file__).resolve().parents[2]

#: As they once stood, each in the part of it that cannot mean anything else: a club
#: member without a course in statistics did not understand them, or took them for
#: something else.
REPLACED = (
    "Local: plain HTTP",
    "Anyone on this network can read",
    'rel="next">{% translate "On" %}',
    '"On block"',
    "waits %",
    "waits {{",
    "with the jaws' wide faces closed",
    "Not admitted ·",
    "rules met ·",
    "the slip goes",
    "the slip stops",
    "May be taken as well",
    "is outside {range",
    "” is right",
    "Take it so",
    "how this page takes a caliper",
    "waits in the tray",
    "0.39 % more resistance",
    "Nothing in the drawers would",
    "does not meet:",
    "it does not meet",
    "The car as presented breaks:",
    "95 % one-sided; value and limit are compared",
    '<th scope="col" class="number">u</th>',
    "No wear left",
    "past its limit already",
    "Not known of the car off the block",
    "Its own wear is known once",
    "front on the front",
    "governs)",
    "governs.",
    "something is not measured",
    "is not known: measure",
    "takes a crown, any other a spur",
    "And {{ more }} more",
    "Modules apart",
    "misses by",
    "all pitches alike likely",
    "that the true difference keeps the tolerance",
    "its own error drops out",
    "what a whole tolerance of it costs",
    "no choice has more than",
    "Run again for this page",
    "not to be told now",
    "below five degrees of freedom",
    "No rule that was measured is broken",
    "cannot become “",
)


def shown_to_people() -> list[Path]:
    found = [
        path
        for app in ("deploy", "inspection", "inventory")
        for kind in ("*.html", "*.txt", "*.js", "*.py")
        for path in (ROOT / app).rglob(kind)
        if "migrations" not in path.parts
    ]
    assert len(found) > 600
    return found


@pytest.fixture(scope="module")
def texts() -> dict[Path, str]:
    texts = {}
    for path in shown_to_people():
        text = path.read_text(encoding="utf-8")
        if path.suffix == ".py":
            # A string over several lines is one sentence; docstrings are for us.
            text = re.sub(r'"""(?:.|\n)*?"""|#.*', "", text)
            text = re.sub(r'"\s*\n\s*f?"', "", text)
        texts[path] = text
    return texts


@pytest.mark.parametrize("sentence", REPLACED)
def test_sentence_that_was_replaced_stands_nowhere(
    sentence: str, texts: dict[Path, str]
) -> None:
    assert [str(path) for path, text in texts.items() if sentence in text] == []


#: What a template says in every language: names, formats, commands, headers.
UNTRANSLATED = re.compile(
    r"Feelerbook|SHA-256|CSV|XLSX|JSON|python [\w./-]+( [\w.-]+)*|manage\.py [\w -]+"
    r"|deploy/[\w./]+|own|openapi\.json|[A-Z][A-Za-z]*(-[A-Za-z]+)+|Authorization.*"
    r'|class="[\w -]+"|GET /\S+|ETag|next|fields|ordering|limit'
)


def unmarked_in(template: str) -> list[str]:
    """Give the words of a template that no tag marks for translation."""
    for gone in (
        r"{% comment %}.*?{% endcomment %}|{#.*?#}",
        r"{% blocktranslate\b.*?{% endblocktranslate %}",
        r"<(script|style|svg|code)\b.*?</\1>",
        # A quote inside a tag of a template ends no attribute.
        r"{%.*?%}|{{.*?}}|&\w+;",
    ):
        template = re.sub(gone, " ", template, flags=re.DOTALL)
    said = re.findall(r'\b(?:aria-label|title|placeholder|alt)="([^"]*)"', template)
    said += re.split(r"<[^>]*>", template)
    said = [UNTRANSLATED.sub(" ", one) for one in said]
    return [one.strip() for one in said if re.search(r"[A-Za-z]{2,}", one)]


def test_each_word_of_a_template_is_marked_for_translation() -> None:
    found = {
        str(path): words
        for path in shown_to_people()
        if path.suffix == ".html"
        and (words := unmarked_in(path.read_text(encoding="utf-8")))
    }
    assert found == {}


#: Where sentences for people are made.  Not here: computing, which gives a code and
#: values; what stands in files of an exchange format or is kept in rows;
#: what the API says to programs; the command line.
ROOMS = ("actions", "forms", "loaders", "templatetags", "views", "words")
MARKS = frozenset(
    {"_", "_lazy", "gettext", "ngettext", "later", "gettext_lazy", "ngettext_lazy"}
)
#: Kept in a row or in a report as they were said then; headings of a list that comes
#: in by them; or no sentence.
KEPT = re.compile(
    r"\{\} failed its next check|From a list of past results|.*: the pairing was undone"
    r"|.* not ruled yet|[A-Z][A-Z_ ]+ .*|\{\} was changed"
    r"|\{\}: its seals|.*\| None"
    r"|Step of its display|Largest error allowed|Check every days|Sign-in name"
)


def sentences_in(path: Path) -> Iterator[tuple[int, str]]:
    """Give what reads like a sentence and goes through no mark."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    above = {
        child: one for one in ast.walk(tree) for child in ast.iter_child_nodes(one)
    }
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant | ast.JoinedStr):
            continue
        text = text_of(node)
        if not re.match(r"[“A-Z{].*[a-z]{2,} .*[a-z]{2}", text) or KEPT.match(text):
            continue
        if not is_marked(node, above) and not isinstance(above[node], ast.JoinedStr):
            yield node.lineno, text


def text_of(node: ast.AST) -> str:
    if isinstance(node, ast.JoinedStr):
        parts = [one for one in node.values if isinstance(one, ast.Constant)]
        said = "".join(text_of(one) or "{}" for one in node.values)
        return said if parts else ""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    return ""


def is_marked(node: ast.AST, above: dict[ast.AST, ast.AST]) -> bool:
    """Whether it stands in a mark, is a docstring or what a fault of ours says."""
    while not isinstance(node, ast.stmt):
        node = above[node]
        if isinstance(node, ast.Call):
            called = getattr(node.func, "id", getattr(node.func, "attr", ""))
            if called in MARKS:
                return True
    if isinstance(node, ast.Assign):
        return any(getattr(one, "id", "") == "msg" for one in node.targets)
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def test_each_sentence_of_the_program_is_marked_for_translation() -> None:
    found = [
        f"{path}:{line}: {text}"
        for path in shown_to_people()
        if path.suffix == ".py" and path.relative_to(ROOT).parts[1] in ROOMS
        for line, text in sentences_in(path)
    ]
    assert found == []


#: Rooms that give a code and values, of which `words/` makes the sentences.
WITHOUT_WORDS = (
    *(f"inspection/compute/{room}" for room in ("fit", "jig", "remedies", "rulebooks")),
    *(f"inspection/compute/{room}" for room in ("asking", "what_if")),
    "inventory/compute/numbers",
)


def test_computing_gives_a_code_and_values_and_makes_no_sentence() -> None:
    paths = [path for room in WITHOUT_WORDS for path in (ROOT / room).rglob("*.py")]
    assert len(paths) > 50
    said = [f"{path}: {text}" for path in paths for _, text in sentences_in(path)]
    assert [one for one in said if one.endswith((".", "?", "!"))] == []


#: A day is "2 Aug 2026" wherever it stands, of one year or night less of it.
DATES = re.compile(r"(l )?j M( Y)?( H:i(:s)?)?|H:i(:s)?|.*T \(O\)|c|Y-m-d.*")
#: Months from Python are English in each language; Windows knows no "%-d".
BY_PYTHON = re.compile(r"{[^{}]*:[^{}]*%(?:-d|[bB])")


def test_a_date_is_written_in_one_way(texts: dict[Path, str]) -> None:
    found = {
        one
        for path in shown_to_people()
        if path.suffix in {".html", ".txt"}
        for one in re.findall(r'\|date:"([^"]*)"', path.read_text(encoding="utf-8"))
        if not DATES.fullmatch(one) or "F" in one
    }
    assert found == set()
    assert [str(path) for path, text in texts.items() if BY_PYTHON.search(text)] == []


#: What a template shows of a row as it is kept: no word of an enumeration.
NO_WORDS = {"kind", "mode", "unit", "quantity", "position", "source", "digits", "role"}


def test_each_word_of_an_enumeration_is_in_the_language_of_the_reader(
    texts: dict[Path, str],
) -> None:
    kept = {
        field.name
        for model in apps.get_models()
        for field in model._meta.concrete_fields
        if field.choices
    }
    assert {"state", "ruling", "occasion", "move", "layout"} <= kept
    names = "|".join(sorted(kept - NO_WORDS))
    bare = re.compile(rf"{{{{ [\w.]*\.(?:{names}) }}}}|\w=[\w.]+\.from_state[ %]")
    assert [
        (path.name, bare.findall(text))
        for path, text in texts.items()
        if path.suffix == ".html" and bare.search(text)
    ] == []
