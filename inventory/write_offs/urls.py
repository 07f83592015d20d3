from django.urls import path

from inventory.write_offs import views

urlpatterns = [
    path("write-offs/", views.write_offs, name="write-offs"),
    path("write-offs/<int:pk>/", views.write_off, name="write-off"),
    path("write-offs/<int:pk>/agree/", views.write_off_agree, name="write-off-agree"),
    path("write-offs/<int:pk>/refuse/", views.write_off_refuse, name="write-off-refuse"),
    path("write-offs/<int:pk>/withdraw/", views.write_off_withdraw, name="write-off-withdraw"),
]
