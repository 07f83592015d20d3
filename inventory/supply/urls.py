from django.urls import path

from inventory.supply import level_views, views

urlpatterns = [
    path("enough/", views.enough, name="enough"),
    path("enough/<int:pk>/", level_views.over_time, name="substance-over-time"),
    path("enough/<int:pk>/chart.svg", level_views.over_time_chart, name="substance-over-time-chart"),
    path("costs/", views.costs, name="costs"),
]
