from django.urls import path

from shopledger.inspection import views

urlpatterns = [
    path("bundles/", views.bundles, name="bundles"),
    path("bundles/<int:pk>/", views.bundle, name="bundle"),
    path("bundles/<int:pk>/file/", views.bundle_file, name="bundle-file"),
    path("proof/", views.proof, name="proof"),
]
