from django.urls import path

from inventory.scales import sending_views, views

urlpatterns = [
    path("scales/", views.scales, name="scales"),
    path("scales/<int:pk>/", views.scale, name="scale"),
    path("scales/<int:pk>/check/", views.scale_check, name="scale-check"),
    path("scales/<int:pk>/sends/", sending_views.scale_sends, name="scale-sends"),
    path("scales/<int:pk>/sends/by/", sending_views.scale_connects, name="scale-connects"),
    path("scales/<int:pk>/sends/form/", sending_views.scale_form, name="scale-form"),
    path("scales/<int:pk>/sends/back/", sending_views.scale_form_back, name="scale-form-back"),
    path("scales/<path:code>/read/", sending_views.scale_read, name="scale-read"),
    path("stock/scales/new/", views.scale_edit, name="scale-new"),
    path("stock/scales/<path:code>/", views.scale_edit, name="scale-edit"),
]
