from django.urls import path

from inventory.counting import views

urlpatterns = [
    path("counting/", views.counting, name="counting"),
    path("counting/<int:pk>/", views.count_place, name="count-place"),
]
