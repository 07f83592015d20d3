from django.urls import path

from inventory.attachments import views

urlpatterns = [
    path("files/<int:pk>/", views.attachment, name="attachment"),
    path("files/<int:pk>/withdraw/", views.file_withdraw, name="file-withdraw"),
    path("files/to/<slug:kind>/<int:key>/", views.attach_to, name="attach-to"),
]
