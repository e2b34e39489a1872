"""Addresses of the API of the bill."""

from django.urls import path

from . import bills, money

urlpatterns = [
    path("money/", money.Money.as_view(), name="api_money"),
    path("money/numbers/", money.NumberSeriesOfYear.as_view(), name="api_number_series"),
    path("invoices/", bills.Invoices.as_view(), name="api_invoices"),
    path("invoices/<str:number>/", bills.InvoiceDetail.as_view(), name="api_invoice"),
    path("invoices/<str:number>/payment/", bills.InvoicePayment.as_view(), name="api_invoice_payment"),
    path("invoices/<str:number>/credit/", bills.InvoiceCredit.as_view(), name="api_invoice_credit"),
    path("invoices/<str:number>/paper-again/", money.InvoicePaperAgain.as_view(), name="api_invoice_paper_again"),
    path("invoices/<str:number>/remind/", bills.InvoiceRemind.as_view(), name="api_invoice_remind"),
    path("payments/<int:pk>/take-back/", bills.PaymentTakeBack.as_view(), name="api_payment_take_back"),
    path("orders/<str:code>/money/", money.OrderMoney.as_view(), name="api_order_money_panel"),
    path("orders/<str:code>/bill/", bills.OrderBill.as_view(), name="api_order_bill"),
    path("orders/<str:code>/deposit/", bills.OrderDeposit.as_view(), name="api_order_deposit"),
]
