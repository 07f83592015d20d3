from django.urls import path

from inventory.counting import difference_views, drift_views, paper_views, views

urlpatterns = [
    path("counting/", views.counting, name="counting"),
    path("counting/<int:pk>/", views.count_place, name="count-place"),
    path("counting/<int:pk>/start/", views.count_start, name="count-start"),
    path("counting/<int:pk>/sheet.pdf", paper_views.count_paper, name="count-paper"),
    path("counts/<int:pk>/", views.count, name="count"),
    path("counts/<int:pk>/result.pdf", paper_views.count_result, name="count-result"),
    path("counts/<int:pk>/state/", views.count_state, name="count-state"),
    path("counts/<int:pk>/rest/", views.count_rest, name="count-rest"),
    path("counts/<int:pk>/note/", views.count_note, name="count-note"),
    path("counts/<int:pk>/reason/", views.count_reason, name="count-reason"),
    path("counts/<int:pk>/remove/", views.count_remove, name="count-remove"),
    path("counts/<int:pk>/abandon/", views.count_abandon, name="count-abandon"),
    path("counts/<int:pk>/post/", views.count_post, name="count-post"),
    path("differences/", difference_views.differences, name="differences"),
    path("differences/over-time/", drift_views.over_time, name="differences-over-time"),
    path("differences/over-time/chart.svg", drift_views.over_time_chart, name="differences-over-time-chart"),
    path("differences/<int:pk>/", difference_views.difference, name="difference"),
    path("stock/tares/<path:code>/", difference_views.tare, name="tare"),
]
