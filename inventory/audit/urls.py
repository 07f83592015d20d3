from django.urls import path

from inventory.audit import views

urlpatterns = [path("trail/", views.trail, name="trail")]
