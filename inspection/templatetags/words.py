"""What computing gave, in words."""

from django import template

from inspection.words.editions import change_words
from inspection.words.jig import build_advice, build_words
from inspection.words.quantities import how_taken, quantity_name

register = template.Library()

register.filter("build_words", build_words)
register.filter("build_advice", build_advice)
register.filter("change_words", change_words)
register.filter("quantity_name", quantity_name)
register.filter("how_taken", how_taken)
