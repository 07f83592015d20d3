from django.urls import path

from shopledger.find import views

urlpatterns = [path("find/", views.find, name="find")]
