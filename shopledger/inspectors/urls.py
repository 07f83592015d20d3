from django.urls import path

from shopledger.inspectors import views, visit

urlpatterns = [
    path("inspectors/", views.inspectors, name="inspectors"),
    path("inspectors/<int:pk>/", views.inspector, name="inspector"),
    path("inspectors/<int:pk>/end/", views.inspector_end, name="inspector-end"),
    path("inspect/", visit.start, name="inspect"),
    path("inspect/reports/<slug:name>/", visit.report, name="inspect-report"),
    path("inspect/jobs/", visit.jobs, name="inspect-jobs"),
    path("inspect/jobs/<int:pk>/", visit.job, name="inspect-job"),
    path("inspect/vouchers/", visit.vouchers, name="inspect-vouchers"),
    path("inspect/vouchers/<int:number>/", visit.voucher, name="inspect-voucher"),
    path("inspect/files/<int:pk>/", visit.file, name="inspect-file"),
    path("inspect/bundles/<int:pk>/", visit.bundle, name="inspect-bundle"),
    path("inspect/proof/", visit.proof, name="inspect-proof"),
]
