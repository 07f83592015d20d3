from django.urls import path

from shopledger.home import views

urlpatterns = [
    path("", views.home, name="home"),
    path("worker.js", views.worker, name="worker"),
    path("sign-in/", views.SignIn.as_view(), name="sign-in"),
    path("sign-out/", views.SignOut.as_view(), name="sign-out"),
    path("me/units/", views.preferences, name="preferences"),
    path("me/password/", views.Password.as_view(), name="password"),
]
