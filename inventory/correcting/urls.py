from django.urls import path

from inventory.correcting import views

urlpatterns = [path("ledger/<int:number>/correct/", views.correct, name="voucher-correct")]
