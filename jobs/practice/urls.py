from django.urls import path

from jobs.practice import views

urlpatterns = [
    path("jobs/practice/start/", views.practice_start, name="practice-start"),
    path("jobs/practice/pass/", views.practice_pass, name="practice-pass"),
    path("jobs/practice/end/", views.practice_end, name="practice-end"),
]
