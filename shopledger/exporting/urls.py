from django.urls import path

from shopledger.exporting.views import log_export

urlpatterns = [path("logs/export.zip", log_export, name="log-export")]
