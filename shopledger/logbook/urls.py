from django.urls import path

from shopledger.logbook import views

urlpatterns = [
    path("logs/", views.logs, name="logs"),
    path("logs/templates.zip", views.log_templates, name="log-templates"),
    path("logs/<int:pk>/", views.log, name="log"),
    path("logs/<int:pk>/load/", views.log_load, name="log-load"),
    path("logs/<int:pk>/drop/", views.log_drop, name="log-drop"),
]
