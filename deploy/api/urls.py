"""Where the API is: each app's operations, their description and documentation."""

from django.urls import URLPattern, URLResolver, path

from deploy.api.pages import documentation, openapi
from inspection.api.urls import urlpatterns as of_inspection
from inventory.api.urls import urlpatterns as of_inventory

app_name = "api"
urlpatterns: list[URLPattern | URLResolver] = [
    path("openapi.json", openapi, name="openapi"),
    path("docs", documentation, name="docs"),
    *of_inventory,
    *of_inspection,
]
