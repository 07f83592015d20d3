from django.urls import path

from inventory.leaving import views

urlpatterns = [
    path("leaving/", views.leaving, name="leaving"),
    path("leaving/new/", views.shipment_new, name="shipment-new"),
]
