from django.urls import path

from inventory.vouchers import views

urlpatterns = [
    path("ledger/", views.ledger, name="ledger"),
    path("ledger/<int:number>/", views.voucher, name="voucher"),
    path("ledger/<int:number>/reverse/", views.voucher_reverse, name="voucher-reverse"),
]
