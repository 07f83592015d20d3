from django.urls import path

from inventory.kept import views

urlpatterns = [
    path("stock/kept/", views.kept, name="kept"),
    path("stock/kept/new/", views.take_in, name="take-in"),
    path("stock/found/new/", views.found_new, name="found-new"),
    path("stock/containers/<path:code>/identify/", views.identify, name="identify"),
    path("stock/containers/<path:code>/keep-for/", views.keep_for, name="keep-for"),
    path("stock/containers/<path:code>/give-back/", views.give_back, name="give-back"),
]
