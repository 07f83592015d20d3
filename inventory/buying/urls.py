from django.urls import path

from inventory.buying import invoice_views, need_views, order_views, statement_views

urlpatterns = [
    path("buying/", order_views.orders, name="orders"),
    path("buying/need/", need_views.need, name="need"),
    path("buying/orders/new/", order_views.order_new, name="order-new"),
    path("buying/orders/<int:pk>/", order_views.order, name="order"),
    path("buying/orders/<int:pk>/sent/", order_views.order_sent, name="order-sent"),
    path("buying/orders/<int:pk>/lines/<int:line>/give-up/", order_views.order_give_up, name="order-give-up"),
    path("buying/orders/<int:pk>/deliveries/", order_views.order_came, name="order-came"),
    path("buying/orders/<int:pk>/deliveries/<int:number>/undo/", order_views.order_not_came, name="order-not-came"),
    path("buying/orders/<int:pk>/order.pdf", order_views.order_file, {"kind": "pdf"}, name="order-paper"),
    path("buying/orders/<int:pk>/order.csv", order_views.order_file, {"kind": "csv"}, name="order-csv"),
    path("buying/invoices/", invoice_views.invoices, name="invoices"),
    path("buying/invoices/new/", invoice_views.invoice_new, name="invoice-new"),
    path("buying/invoices/<int:pk>/", invoice_views.invoice, name="invoice"),
    path("buying/invoices/<int:pk>/correct/", invoice_views.invoice_correct, name="invoice-correct"),
    path("buying/invoices/<int:pk>/void/", invoice_views.invoice_void, name="invoice-void"),
    path("buying/statements/", statement_views.statements, name="statements"),
    path("buying/statements/<int:pk>/", statement_views.statement_page, name="statement"),
]
