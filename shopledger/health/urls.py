from django.urls import path

from shopledger.health import views

urlpatterns = [path("health/", views.health, name="health"), path("healthz", views.healthz, name="healthz")]
