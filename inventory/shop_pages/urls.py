from django.urls import path

from inventory.shop_pages import views

urlpatterns = [
    path("settings/", views.settings, name="settings"),
    path("settings/rulebook/", views.rulebook_page, name="rulebook"),
    path("settings/rulebook/<slug:book>/", views.rulebook_bound, name="rulebook-bound"),
]
