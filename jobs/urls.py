"""The pages of this floor's rooms."""

from django.urls import include, path

urlpatterns = [
    path("", include("jobs.people.urls")),
    path("", include("jobs.pages.unit_urls")),
    path("", include("jobs.pages.urls")),
    path("", include("jobs.practice.urls")),
]
