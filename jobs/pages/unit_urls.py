"""Pages about customers and units."""

from django.urls import path

from jobs.pages import leak_case_views, leak_event_views, premises_views, year_views
from jobs.pages import unit_views as views

urlpatterns = [
    path("units/", views.units, name="units"),
    path("units/new/", views.unit_new, name="unit-new"),
    path("units/vin/", views.unit_vin, name="unit-vin"),
    path("units/vin/scanned/", views.unit_vin_scanned, name="unit-vin-scanned"),
    path("units/suggestion/", views.unit_suggestion, name="unit-suggestion"),
    path("units/leak-checks/", views.leak_checks, name="leak-checks"),
    path("units/<int:pk>/", views.unit, name="unit"),
    path("units/<int:pk>/year.svg", year_views.unit_year, name="unit-year"),
    path("people/<int:pk>/year.svg", year_views.person_year, name="person-year"),
    path("units/<int:pk>/edit/", views.unit_edit, name="unit-edit"),
    path("units/<int:pk>/full-charge/", premises_views.unit_full_charge, name="unit-full-charge"),
    path("units/<int:pk>/leaks/", leak_case_views.unit_leaks, name="unit-leaks"),
    path("units/<int:pk>/leaks.pdf", leak_case_views.unit_leaks_sheet, name="unit-leaks-sheet"),
    path("units/<int:pk>/leak-events/", leak_event_views.unit_leak_events, name="unit-leak-events"),
    path("units/<int:pk>/leak-events/new/", leak_event_views.unit_leak_event, name="unit-leak-event"),
    path("leak-events/<int:pk>/", leak_event_views.leak_event, name="leak-event"),
    path("leak-events/<int:pk>/void/", leak_event_views.leak_event_void, name="leak-event-void"),
    path("premises/choices/", premises_views.premises_choices, name="premises-choices"),
    path("premises/<int:pk>/", premises_views.premises, name="premises"),
    path("premises/<int:pk>/edit/", premises_views.premises_edit, name="premises-edit"),
    path("premises/<int:pk>/method/", premises_views.premises_method, name="premises-method"),
    path("customers/", views.customers, name="customers"),
    path("customers/new/", views.customer_new, name="customer-new"),
    path("customers/choices/", views.customer_choices, name="customer-choices"),
    path("customers/<int:pk>/", views.customer, name="customer"),
    path("customers/<int:pk>/premises/new/", premises_views.premises_new, name="customer-premises-new"),
    path("customers/<int:pk>/edit/", views.customer_edit, name="customer-edit"),
]
