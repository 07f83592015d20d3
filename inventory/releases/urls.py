from django.urls import path

from inventory.releases import views

urlpatterns = [
    path("stock/release/", views.release, name="release"),
]
