from django.urls import path

from inventory.receiving import views

urlpatterns = [
    path("receiving/", views.receiving, name="receiving"),
    path("receiving/new/", views.receipt_new, name="receipt-new"),
    path("receiving/line/", views.receipt_line, name="receipt-line"),
    path("receiving/last/", views.receipt_last, name="receipt-last"),
    path("receiving/opening/", views.opening_new, name="opening-new"),
]
