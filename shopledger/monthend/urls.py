from django.urls import path

from shopledger.monthend import views

urlpatterns = [
    path("month/", views.month_end, name="month-end"),
    path("month/leave/<slug:of>/", views.month_leave, name="month-leave"),
]
