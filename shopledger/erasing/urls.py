from django.urls import path

from shopledger.erasing import views

urlpatterns = [
    path("erasing/", views.erased, name="erased"),
    path("erasing/<str:kind>/<path:key>/", views.erase_page, name="erase"),
]
