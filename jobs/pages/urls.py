from django.urls import path

from jobs.pages import draft_views, hand_views, signature_views, views

urlpatterns = [
    path("jobs/", views.jobs, name="jobs"),
    path("scan/<path:code>/", views.scan, name="scan"),
    path("jobs/new/", views.job_new, name="job-new"),
    path("jobs/new/<int:unit>/", views.job_start, name="job-start"),
    path("jobs/<int:pk>/", views.job, name="job"),
    path("jobs/<int:pk>/version/", draft_views.job_version, name="job-version"),
    path("jobs/<int:pk>/sheet.pdf", views.job_sheet, name="job-sheet"),
    path("jobs/<int:pk>/customer-sheet.pdf", views.job_customer_sheet, name="job-customer-sheet"),
    path("jobs/<int:pk>/step/<slug:step>/", draft_views.job_step, name="job-step"),
    path("jobs/<int:pk>/skip/<slug:step>/", draft_views.job_skip, name="job-skip"),
    path("jobs/<int:pk>/clock/<slug:clock>/", draft_views.job_clock, name="job-clock"),
    path("jobs/<int:pk>/vacuum/<slug:mark>/", draft_views.job_vacuum, name="job-vacuum"),
    path("jobs/<int:pk>/entry/", draft_views.job_line, name="job-line"),
    path("jobs/<int:pk>/entry/<uuid:key>/remove/", draft_views.job_line_remove, name="job-line-remove"),
    path("jobs/<int:pk>/photos/", draft_views.job_photo, name="job-photo"),
    path("jobs/<int:pk>/photos/<int:photo>/", draft_views.job_photo_change, name="job-photo-change"),
    path("jobs/<int:pk>/finger/", signature_views.job_finger, name="job-finger"),
    path("jobs/<int:pk>/finger/back/", signature_views.job_finger_back, name="job-finger-back"),
    path("jobs/<int:pk>/place/", draft_views.job_place, name="job-place"),
    path("jobs/<int:pk>/hose/", draft_views.job_hose, name="job-hose"),
    path("jobs/<int:pk>/hands/", hand_views.job_hand, name="job-hand"),
    path("jobs/<int:pk>/hands/<int:hand>/end/", hand_views.job_hand_end, name="job-hand-end"),
    path("jobs/<int:pk>/hand-over/", hand_views.job_hand_over, name="job-hand-over"),
    path("jobs/<int:pk>/ports/", hand_views.job_ports, name="job-ports"),
    path("jobs/<int:pk>/as-last-time/", hand_views.job_carry_over, name="job-carry-over"),
    path("jobs/<int:pk>/sign/", draft_views.job_sign, name="job-sign"),
    path("jobs/<int:pk>/correct/", views.job_correct, name="job-correct"),
    path("jobs/<int:pk>/drop/", views.job_drop, name="job-drop"),
]
