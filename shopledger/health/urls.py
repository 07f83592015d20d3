from django.urls import path

from shopledger.health import views

urlpatterns = [
    path("healthz", views.healthz, name="healthz"),
    path("health/", views.health, name="health"),
    path("health/verify/", views.health_verify, name="health-verify"),
    path("health/clocks/", views.clocks_seen, name="clocks-seen"),
]
