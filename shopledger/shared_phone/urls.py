from django.urls import path

from shopledger.shared_phone import views

urlpatterns = [
    path("sign-in/people/", views.people_here, name="people-here"),
    path("sign-in/people/<int:pk>/", views.pin_sign_in, name="pin-sign-in"),
    path("sign-in/somebody-else/", views.somebody_else, name="somebody-else"),
    path("sign-in/everybody-out/", views.everybody_out, name="everybody-out"),
    path("sign-in/shared/", views.share, name="phone-shared"),
    path("sign-in/touched/", views.touched, name="touched"),
    path("me/pin/", views.pin, name="pin"),
    path("me/pin/remove/", views.pin_remove, name="pin-remove"),
    path("people/<int:pk>/pin/remove/", views.person_pin_remove, name="person-pin-remove"),
]
