from django.urls import path

from inventory.scales import views

urlpatterns = [
    path("scales/", views.scales, name="scales"),
    path("scales/<int:pk>/", views.scale, name="scale"),
    path("scales/<int:pk>/check/", views.scale_check, name="scale-check"),
    path("stock/scales/new/", views.scale_edit, name="scale-new"),
    path("stock/scales/<path:code>/", views.scale_edit, name="scale-edit"),
]
