"""The pages of this floor's rooms."""

from django.urls import include, path

urlpatterns = [
    path("", include("inventory.attachments.urls")),
    path("", include("inventory.places.urls")),
    path("", include("inventory.kept.urls")),
    path("", include("inventory.containers.urls")),
    path("", include("inventory.parties.urls")),
    path("", include("inventory.receiving.urls")),
    path("", include("inventory.buying.urls")),
    path("", include("inventory.counting.urls")),
    path("", include("inventory.shipping.urls")),
    path("", include("inventory.releases.urls")),
    path("", include("inventory.scales.urls")),
    path("", include("inventory.machines.urls")),
    path("", include("inventory.supply.urls")),
    path("", include("inventory.write_offs.urls")),
    path("", include("inventory.correcting.urls")),
    path("", include("inventory.vouchers.urls")),
    path("", include("inventory.shop.urls")),
    path("", include("inventory.shop_pages.urls")),
    path("", include("inventory.audit.urls")),
]
