from django.urls import path

from inventory.shop_pages import views

urlpatterns = [
    path("settings/", views.settings, name="settings"),
    path("settings/rulebook/", views.rulebook_page, name="rulebook"),
]
