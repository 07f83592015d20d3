from django.urls import path

from inventory.machines import views

urlpatterns = [
    path("machines/", views.machines, name="machines"),
    path("machines/new/", views.machine_edit, name="machine-new"),
    path("machines/<int:pk>/", views.machine, name="machine"),
    path("machines/<int:pk>/edit/", views.machine_edit, name="machine-edit"),
    path("machines/<int:pk>/check/", views.machine_check, name="machine-check"),
    path("stock/recycled/<path:code>/", views.recycled, name="recycled"),
]
