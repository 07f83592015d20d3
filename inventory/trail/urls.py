from django.urls import path

from inventory.trail import views

urlpatterns = [path("trail/", views.trail, name="trail")]
