"""Addresses of the bill."""

from django.urls import URLPattern, path

from .views import bills, invoices, money

urlpatterns: list[URLPattern] = [
    path("money/", money.money, name="money"),
    path("money/invoices/", money.invoice_list, name="invoices"),
    path("money/numbers/", money.number_series, name="number_series"),
    path("money/payments/<int:pk>/take-back/", invoices.take_back, name="payment_take_back"),
    path("money/invoices/<str:number>/", invoices.invoice, name="invoice"),
    path("money/invoices/<str:number>/paper-again/", invoices.paper_again, name="invoice_paper_again"),
    path("money/invoices/<str:number>/credit/", invoices.credit, name="invoice_credit"),
    path("money/invoices/<str:number>/payment/", invoices.payment, name="invoice_payment"),
    path("money/invoices/<str:number>/remind/", invoices.remind, name="invoice_remind"),
    path("orders/<str:code>/money/", bills.order_money_panel, name="order_money_panel"),
    path("orders/<str:code>/bill/", bills.order_bill, name="order_bill"),
    path("orders/<str:code>/deposit/", bills.order_deposit, name="order_deposit"),
]
