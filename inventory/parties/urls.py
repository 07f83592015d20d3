from django.urls import path

from inventory.parties import views

urlpatterns = [
    path("receiving/parties/", views.parties, name="parties"),
    path("receiving/parties/new/", views.party_edit, name="party-new"),
    path("receiving/parties/<int:pk>/", views.party_edit, name="party-edit"),
    path("receiving/parties/<int:pk>/papers/new/", views.paper_new, name="party-paper-new"),
    path("receiving/papers/<int:pk>/", views.paper, name="paper"),
    path("receiving/papers/<int:pk>/withdraw/", views.paper_withdraw, name="paper-withdraw"),
]
