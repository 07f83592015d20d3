from django.urls import path

from inventory.receiving import views

urlpatterns = [
    path("receiving/", views.receiving, name="receiving"),
    path("receiving/new/", views.receipt_new, name="receipt-new"),
    path("receiving/opening/", views.opening_new, name="opening-new"),
    path("receiving/parties/", views.parties, name="parties"),
    path("receiving/parties/new/", views.party_edit, name="party-new"),
    path("receiving/parties/<int:pk>/", views.party_edit, name="party-edit"),
]
