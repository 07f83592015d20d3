"""Pages about people."""

from django.urls import path

from jobs.people import views

urlpatterns = [
    path("people/", views.people, name="people"),
    path("people/new/", views.person_new, name="person-new"),
    path("people/<int:pk>/", views.person, name="person"),
    path("people/<int:pk>/edit/", views.person_edit, name="person-edit"),
    path("people/<int:pk>/password/", views.person_password, name="person-password"),
    path("people/<int:pk>/certificates/new/", views.certificate_new, name="certificate-new"),
    path("certificates/<int:pk>/edit/", views.certificate_edit, name="certificate-edit"),
]
