from django.urls import path

from inventory.containers import check_views, fill_views, views

urlpatterns = [
    path("stock/", views.stock, name="stock"),
    path("stock/move/", views.move, name="move"),
    path("stock/retire/", views.retire, name="retire"),
    path("stock/checks/", check_views.container_checks, name="container-checks"),
    path("stock/leak-check/", check_views.leak_checked, name="leak-checked"),
    path("stock/labels/", views.labels, name="labels"),
    path("stock/containers/<path:code>/weigh/", views.weigh, name="weigh"),
    path("stock/containers/<path:code>/regrade/", views.regrade, name="regrade"),
    path("stock/containers/<path:code>/decant/", views.decant, name="decant"),
    path("stock/containers/<path:code>/relabel/", views.relabel, name="relabel"),
    path("stock/containers/<path:code>/fill.svg", fill_views.container_fill, name="container-fill"),
    path("stock/containers/<path:code>/chart.svg", views.container_chart, name="container-chart"),
    path("stock/containers/<path:code>/", views.container, name="container"),
]
