from django.urls import path

from inventory.shipping import views

urlpatterns = [
    path("leaving/", views.leaving, name="leaving"),
    path("leaving/<int:number>/receipt/", views.shipment_receipt, name="shipment-receipt"),
    path("leaving/<int:number>/paper/", views.shipment_paper, name="shipment-paper"),
    path("leaving/paper/", views.chosen_paper, name="chosen-paper"),
    path("leaving/new/", views.shipment_new, name="shipment-new"),
]
