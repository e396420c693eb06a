"""The addresses of parts, gauges and people."""

from django.urls import path

from inventory.views import gauges, parts, people

app_name = "inventory"
urlpatterns = [
    path("parts", parts.parts, name="parts"),
    path("parts/labels", parts.labels, name="labels"),
    path("parts/new/<str:kind>", parts.new_part, name="new_part"),
    path("parts/<str:tag>", parts.part, name="part"),
    path("parts/<str:tag>/reserve", parts.reserve, name="reserve"),
    path("parts/<str:tag>/release", parts.release, name="release"),
    path("parts/<str:tag>/hand-out", parts.hand_out, name="hand_out"),
    path("parts/<str:tag>/take-back", parts.take_back, name="take_back"),
    path("parts/<str:tag>/retire", parts.retire, name="retire"),
    path("parts/<str:tag>/correct", parts.correct, name="correct"),
    path("parts/<str:tag>/measure", parts.measure, name="measure"),
    path("gauges", gauges.gauges, name="gauges"),
    path("gauges/new", gauges.new_gauge, name="new_gauge"),
    path("gauges/<int:gauge_id>", gauges.gauge, name="gauge"),
    path("gauges/<int:mode_id>/check", gauges.check, name="check"),
    path("gauges/<int:mode_id>/study", gauges.study, name="study"),
    path("gauges/<int:mode_id>/adopt", gauges.adopt, name="adopt"),
    path("people", people.people, name="people"),
    path("people/new", people.new_person, name="new_person"),
]
