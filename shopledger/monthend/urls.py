from django.urls import path

from shopledger.monthend import views

urlpatterns = [path("month/", views.month_end, name="month-end")]
