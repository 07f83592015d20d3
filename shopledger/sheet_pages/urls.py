from django.urls import path

from shopledger.sheet_pages import views

urlpatterns = [
    path("sheets/", views.sheets, name="sheets"),
    path("sheets/<int:pk>/", views.sheet, name="sheet"),
    path("sheets/<int:pk>/put/", views.sheet_put, name="sheet-put"),
    path("sheets/<int:pk>/name/", views.sheet_name, name="sheet-name"),
    path("sheets/<int:pk>/load/", views.sheet_load, name="sheet-load"),
    path("sheets/<int:pk>/drop/", views.sheet_drop, name="sheet-drop"),
    path("sheets/<int:pk>/remarks.xlsx", views.sheet_remarks, name="sheet-remarks"),
]
