"""The pages of this room."""

urlpatterns = []
