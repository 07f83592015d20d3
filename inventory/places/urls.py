from django.urls import path

from inventory.places import views

urlpatterns = [
    path("stock/places/", views.places, name="places"),
    path("stock/where/", views.where, name="where"),
    path("stock/places/<int:pk>/keeper/", views.place_keeper, name="place-keeper"),
]
