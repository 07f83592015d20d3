from django.urls import path

from inventory.shop import views

urlpatterns = [
    path("settings/", views.settings, name="settings"),
    path("columns/", views.list_columns, name="list-columns"),
    path("settings/rulebook/", views.rulebook_page, name="rulebook"),
]
