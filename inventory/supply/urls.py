from django.urls import path

from inventory.supply import views

urlpatterns = [path("enough/", views.enough, name="enough"), path("costs/", views.costs, name="costs")]
