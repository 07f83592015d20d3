from django.urls import path

from inventory.shop import views

urlpatterns = [path("columns/", views.list_columns, name="list-columns")]
