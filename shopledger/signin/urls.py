from django.urls import path

from shopledger.signin import passkey_views, sign_in_views, views

urlpatterns = [
    path("sign-in/passkey/asked/", passkey_views.asked, name="passkey-asked"),
    path("sign-in/passkey/", passkey_views.sign_in, name="passkey-sign-in"),
    path("me/second-factor/", views.second_factor, name="second-factor"),
    path("me/paper-codes/", views.paper_codes, name="paper-codes"),
    path("me/again/", views.prove_again, name="prove-again"),
    path("me/passkeys/asked/", passkey_views.new_asked, name="passkey-new-asked"),
    path("me/passkeys/", passkey_views.new, name="passkey-new"),
    path("me/passkeys/<int:pk>/remove/", passkey_views.remove, name="passkey-remove"),
    path("me/sign-ins/", sign_in_views.sign_ins, name="sign-ins"),
    path("me/sign-ins/end/", sign_in_views.sign_in_end, name="sign-in-end"),
    path("people/ways-in/", sign_in_views.ways_in, name="ways-in"),
    path("people/<int:pk>/let-in/", views.person_let_in, name="person-let-in"),
    path("people/<int:pk>/sign-ins/", sign_in_views.person_sign_ins, name="person-sign-ins"),
    path("people/<int:pk>/sign-ins/end/", sign_in_views.person_sign_in_end, name="person-sign-in-end"),
]
