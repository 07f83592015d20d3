from django.urls import path

from inventory.attachments import views

urlpatterns = [path("files/<int:pk>/", views.attachment, name="attachment")]
