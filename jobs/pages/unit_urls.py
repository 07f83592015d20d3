"""Pages about customers and units."""

from django.urls import path

from jobs.pages import unit_views as views

urlpatterns = [
    path("units/", views.units, name="units"),
    path("units/new/", views.unit_new, name="unit-new"),
    path("units/vin/", views.unit_vin, name="unit-vin"),
    path("units/suggestion/", views.unit_suggestion, name="unit-suggestion"),
    path("units/leak-checks/", views.leak_checks, name="leak-checks"),
    path("units/<int:pk>/", views.unit, name="unit"),
    path("units/<int:pk>/edit/", views.unit_edit, name="unit-edit"),
    path("customers/", views.customers, name="customers"),
    path("customers/new/", views.customer_new, name="customer-new"),
    path("customers/choices/", views.customer_choices, name="customer-choices"),
    path("customers/<int:pk>/", views.customer, name="customer"),
    path("customers/<int:pk>/edit/", views.customer_edit, name="customer-edit"),
]
