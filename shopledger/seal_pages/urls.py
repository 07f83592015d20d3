from django.urls import path

from shopledger.seal_pages import views

urlpatterns = [
    path("seals/", views.seals, name="seals"),
    path("seals/new/", views.seal, name="seal"),
    path("seals/<int:pk>/", views.sealed, name="sealed"),
    path("seals/<int:pk>/keep/", views.seal_keep, name="seal-keep"),
    path("seals/<int:pk>/receipt/", views.seal_receipt, name="seal-receipt"),
    path("seals/<int:pk>/handed/", views.seal_handed, name="seal-handed"),
    path("issued/<int:pk>/", views.issued, name="issued"),
]
