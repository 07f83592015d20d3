from django.urls import path

from inventory.shipping import views

urlpatterns = [
    path("leaving/", views.leaving, name="leaving"),
    path("leaving/<int:number>/receipt/", views.shipment_receipt, name="shipment-receipt"),
    path("leaving/new/", views.shipment_new, name="shipment-new"),
]
