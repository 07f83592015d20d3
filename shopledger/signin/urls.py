from django.urls import path

from shopledger.signin import views

urlpatterns = [
    path("me/second-factor/", views.second_factor, name="second-factor"),
    path("people/<int:pk>/let-in/", views.person_let_in, name="person-let-in"),
]
