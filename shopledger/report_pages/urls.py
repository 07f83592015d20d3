from django.urls import path

from shopledger.report_pages import views

urlpatterns = [
    path("reports/", views.reports, name="reports"),
    path("reports/<slug:name>/", views.report, name="report"),
    path("reports/<slug:name>/chart.svg", views.chart, name="report-chart"),
    path("reports/<slug:name>/movements/", views.movements, name="report-movements"),
]
