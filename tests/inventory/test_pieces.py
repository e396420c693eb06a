"""Pieces of pages: the number tag, marks, fields, cautions and empty pages."""

import re
from decimal import Decimal

import pytest
from django import forms
from django.core.paginator import Paginator
from django.template import Context, Template
from django.template.loader import render_to_string

from inventory.compute.stock.words import PartState
from inventory.words.enumerations import word_of


class SampleForm(forms.Form):
    driver = forms.CharField(help_text="As on the <entry> list.")
    width = forms.CharField(required=False)
    layout = forms.ChoiceField(
        choices=[("i", "in-line"), ("s", "sidewinder")], widget=forms.RadioSelect
    )
    marked = forms.BooleanField(label="Body marked")
    token = forms.CharField(widget=forms.HiddenInput, initial="7")


def figure(arguments: str, **context: object) -> str:
    source = "{% load figures %}{% figure " + arguments + " %}"
    return Template(source).render(Context(context))


def field(form: forms.Form, name: str, **context: object) -> str:
    return render_to_string(
        "inventory/pieces/field.html", {"field": form[name], **context}
    )


@pytest.mark.parametrize(
    ("value", "whole", "part"),
    [
        (9.5, "9", ".50"),
        (Decimal("-0.126"), "−0", ".13"),
        (-0.001, "0", ".00"),
        (187, "187", ".00"),
    ],
)
def test_figure_parts_the_number_at_its_point(
    value: float, whole: str, part: str
) -> None:
    written = figure('value 2 "mm"', value=value)
    assert f'<span class="whole">{whole}</span>' in written
    assert f'<span class="part">{part}</span>' in written
    assert '<span class="unit">mm</span>' in written


def test_figure_without_places_keeps_an_empty_part_for_the_column() -> None:
    assert '<span class="part"></span>' in figure("value 0", value=190)


@pytest.mark.parametrize("value", [None, float("nan")])
def test_figure_of_nothing_is_a_dash(value: float | None) -> None:
    assert figure('value 2 "mm"', value=value) == '<span class="figure">–</span>'


def test_figure_signed_has_its_plus() -> None:
    assert ">+0<" in figure("value 2 signed=True", value=0.07)


MARKS = [
    *PartState,
    "pass",
    "conditional pass",
    "conditional fail",
    "fail",
    "not measured",
    "not applicable",
    "waiting",
    "on block",
    "passed",
    "sent back",
    "withdrawn",
    "yes",
    "no",
    "question",
    "caution",
]


@pytest.mark.parametrize("mark", MARKS)
def test_mark_is_a_word_and_a_drawn_symbol(mark: str) -> None:
    drawn = render_to_string("inventory/pieces/marks.html")
    used = render_to_string("inventory/pieces/mark.html", {"mark": mark})
    (name,) = re.findall(r'href="#([\w-]+)"', used)
    assert f'id="{name}"' in drawn
    # What people say, where it is not what is kept: a car is on the block.
    assert f"{word_of(mark).capitalize()}</span>" in used
    assert 'aria-hidden="true"' in used


def test_no_two_outcomes_share_a_drawing() -> None:
    drawn = render_to_string("inventory/pieces/marks.html")
    symbols = dict(
        re.findall(r'<symbol id="mark-([\w-]+)"[^>]*>(.*?)</symbol>', drawn, re.DOTALL)
    )
    outcomes = [mark.replace(" ", "-") for mark in MARKS[4:10]]
    assert len({symbols[outcome] for outcome in outcomes}) == 6


def test_field_with_an_error_points_to_it_and_keeps_what_was_typed() -> None:
    form = SampleForm({"driver": "", "width": "9o.4"})
    written = field(form, "driver")
    assert 'aria-invalid="true"' in written
    (described,) = re.findall(r'aria-describedby="([^"]+)"', written)
    for name in described.split():
        assert f'id="{name}"' in written
    assert "&lt;entry&gt;" in written
    assert 'value="9o.4"' in field(form, "width", unit="mm")


def test_field_has_a_label_for_its_control() -> None:
    assert '<label for="id_driver">Driver</label>' in field(SampleForm(), "driver")
    assert "<legend>Layout</legend>" in field(SampleForm(), "layout")
    tick = field(SampleForm(), "marked")
    assert re.search(r'<label class="tick"><input[^>]+id="id_marked">', tick)
    assert "<label" not in field(SampleForm(), "token")


def test_form_errors_link_to_their_fields() -> None:
    form = SampleForm({"width": "1"})
    written = render_to_string("inventory/pieces/form_errors.html", {"form": form})
    assert 'href="#id_driver"' in written
    assert 'role="alert"' in written
    clean = render_to_string(
        "inventory/pieces/form_errors.html", {"form": SampleForm()}
    )
    assert not clean.strip()


def test_form_errors_of_the_whole_form_are_shown() -> None:
    form = SampleForm({"driver": "A", "layout": "i", "marked": "on", "token": "7"})
    form.add_error(None, "Two rules contradict each other.")
    written = render_to_string("inventory/pieces/form_errors.html", {"form": form})
    assert "Two rules contradict each other." in written
    assert "<ul>" not in written


def test_caution_and_empty_page_escape_their_words() -> None:
    caution = render_to_string("inventory/pieces/caution.html", {"text": "Eyes & dust"})
    assert "Eyes &amp; dust" in caution
    empty = render_to_string(
        "inventory/pieces/empty.html",
        {"heading": "No gauges yet", "text": "x", "to": "/gauges/new", "action": "Add"},
    )
    assert empty.count("button primary") == 1
    bare = render_to_string(
        "inventory/pieces/empty.html", {"heading": "h", "text": "x"}
    )
    assert "button" not in bare


def test_page_turner_shows_only_ways_that_lead_on() -> None:
    pages = Paginator(range(30), 10)
    written = [
        render_to_string(
            "inventory/pieces/page_turner.html",
            {"page": pages.page(number), "query": "?kind=tyre"},
        )
        for number in (1, 2, 3)
    ]
    assert ['rel="prev"' in each for each in written] == [False, True, True]
    assert ['rel="next"' in each for each in written] == [True, True, False]
    assert "?kind=tyre&amp;page=3" in written[1]
