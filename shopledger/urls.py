"""Every page. Names are flat: a page keeps its name when it moves to another room."""

from django.urls import include, path

urlpatterns = [
    path("", include("shopledger.home.urls")),
    path("", include("inventory.urls")),
    path("", include("jobs.urls")),
    path("", include("shopledger.report_pages.urls")),
    path("", include("shopledger.exporting.urls")),
    path("", include("shopledger.logbook.urls")),
    path("", include("shopledger.sheet_pages.urls")),
    path("", include("shopledger.monthend.urls")),
    path("", include("shopledger.find.urls")),
    path("", include("shopledger.inspection.urls")),
    path("", include("shopledger.seal_pages.urls")),
    path("", include("shopledger.inspectors.urls")),
    path("", include("shopledger.erasing.urls")),
    path("", include("shopledger.signin.urls")),
    path("", include("shopledger.shared_phone.urls")),
    path("", include("shopledger.health.urls")),
]

handler400 = "shopledger.errors.views.unreadable"
handler403 = "shopledger.errors.views.not_allowed"
handler404 = "shopledger.errors.views.not_found"
handler500 = "shopledger.errors.views.broken"
