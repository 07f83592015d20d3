from django.urls import path

from inventory.parties import views

urlpatterns = [
    path("receiving/parties/", views.parties, name="parties"),
    path("receiving/parties/new/", views.party_edit, name="party-new"),
    path("receiving/parties/<int:pk>/", views.party_edit, name="party-edit"),
]
