"""The pages of this floor."""

urlpatterns = []
