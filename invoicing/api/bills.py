"""Bills by API: what is to bill, issuing, crediting, payments and reminders."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.api.base import BEFORE, PROBLEMS, REST, Operation
from orders.api.orders import LetterSerializer
from orders.models import Order, OrderLine
from orders.refusals import Refused

from .. import queries, services
from ..forms import HOWS
from ..models import Invoice, InvoiceLine, Payment


class InvoiceLineSerializer(serializers.ModelSerializer):
    class Meta:
        model = InvoiceLine
        fields = ["id", "text", "quantity", "unit", "unit_price", "tax_rate", "amount"]


class PaymentSerializer(serializers.ModelSerializer):
    class Meta:
        model = Payment
        fields = ["id", "kind", "amount", "on", "how", "note", "by"]


class InvoiceSerializer(serializers.ModelSerializer):
    order = serializers.CharField(source="order.code")
    lines = InvoiceLineSerializer(many=True)
    payments = PaymentSerializer(many=True)

    class Meta:
        model = Invoice
        fields = [
            "id", "number", "kind", "order", "buyer_name", "issued_on", "due_on", "supplied_on", "currency",
            "tax_name", "prices_include_tax", "net", "tax", "total", "lines", "payments",
        ]  # fmt: skip


class Invoices(Operation):
    needs = ("invoicing.see_money",)

    @extend_schema(
        operation_id="invoices",
        parameters=[
            OpenApiParameter("q", str, description="Words that number, customer or order hold."),
            BEFORE,
            REST,
        ],
        responses={200: InvoiceSerializer(many=True), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """Invoices and credit notes, the newest first; all, or those with the words."""
        found = queries.find_papers(request.query_params.get("q", "")).prefetch_related("lines", "payments")
        return self.listed(request, found, InvoiceSerializer, by="before")


class InvoiceDetail(Operation):
    needs = ("invoicing.see_money",)

    @extend_schema(operation_id="invoice", responses={200: InvoiceSerializer, **PROBLEMS})
    def get(self, request: Request, number: str) -> Response:
        """One invoice or credit note as issued, with its payments."""
        return Response(InvoiceSerializer(get_object_or_404(Invoice, number=number)).data)


class BillLineSerializer(serializers.Serializer):
    line = serializers.PrimaryKeyRelatedField(queryset=OrderLine.objects.all())
    quantity = serializers.IntegerField(min_value=1)
    unit_price = serializers.DecimalField(
        max_digits=10, decimal_places=4, min_value=Decimal(0), required=False, help_text="The line's unless given."
    )
    tax_rate = serializers.DecimalField(
        max_digits=5, decimal_places=2, min_value=Decimal(0), max_value=Decimal(100), required=False,
        help_text="Percent; the line's unless given.",
    )  # fmt: skip


class BillSerializer(serializers.Serializer):
    lines = BillLineSerializer(
        many=True, required=False, help_text="Left out: all that is handed over, not billed."
    )
    supplied_on = serializers.DateField(
        allow_null=True, default=None, help_text="The day of the last hand-over unless given."
    )
    key = serializers.UUIDField(allow_null=True, default=None)


class OrderBill(Operation):
    needs = ("invoicing.issue_invoices",)

    @extend_schema(
        operation_id="order_bill", request=BillSerializer, responses={201: InvoiceSerializer, **PROBLEMS}
    )
    def post(self, request: Request, code: str) -> Response:
        """Bill plants that were handed over. The paper and the letter follow."""
        order = get_object_or_404(Order, code=code)
        data = self.checked(BillSerializer, request)
        rows = data.get("lines")
        invoice = services.issue(
            order=order,
            by=self.by,
            today=self.today,
            quantities=_by_line(rows, "quantity") if rows else None,
            prices=_by_line(rows or [], "unit_price"),
            tax_rates=_by_line(rows or [], "tax_rate"),
            supplied_on=data["supplied_on"],
            key=data["key"],
        )
        return Response(InvoiceSerializer(invoice).data, status=201)


def _by_line(rows: list[dict[str, Any]], name: str) -> dict[OrderLine, Any]:
    return {row["line"]: row[name] for row in rows if name in row}


class MoneySerializer(serializers.Serializer):
    kind = serializers.ChoiceField(
        [(Payment.Kind.PAYMENT.value, "it came in"), (Payment.Kind.REFUND.value, "we gave it back")],
        default=Payment.Kind.PAYMENT.value,
    )
    amount = serializers.DecimalField(max_digits=12, decimal_places=2, min_value=Decimal("0.01"))
    on = serializers.DateField(allow_null=True, default=None)
    how = serializers.ChoiceField(HOWS, default=Payment.How.TRANSFER)
    note = serializers.CharField(max_length=200, allow_blank=True, default="")
    over = serializers.BooleanField(default=False, help_text="It is more than is due, and meant so.")
    key = serializers.UUIDField(allow_null=True, default=None)


class InvoicePayment(Operation):
    needs = ("invoicing.record_payments",)

    @extend_schema(
        operation_id="invoice_payment", request=MoneySerializer, responses={201: PaymentSerializer, **PROBLEMS}
    )
    def post(self, request: Request, number: str) -> Response:
        """Money received for an invoice, in whole or in part; or given back of what was paid too much."""
        invoice = get_object_or_404(Invoice, number=number)
        data = self.checked(MoneySerializer, request)
        data["on"] = data["on"] or self.today
        payment = services.record_payment(invoice=invoice, by=self.by, today=self.today, **data)
        return Response(PaymentSerializer(payment).data, status=201)


class OrderDeposit(Operation):
    needs = ("invoicing.record_payments",)

    @extend_schema(
        operation_id="order_deposit", request=MoneySerializer, responses={201: PaymentSerializer, **PROBLEMS}
    )
    def post(self, request: Request, code: str) -> Response:
        """A deposit, before there is an invoice; or what is left of it given back."""
        order = get_object_or_404(Order, code=code)
        data = self.checked(MoneySerializer, request)
        data["on"] = data["on"] or self.today
        payment = services.record_payment(order=order, by=self.by, today=self.today, **data)
        return Response(PaymentSerializer(payment).data, status=201)


class TakeBackSerializer(serializers.Serializer):
    reason = serializers.CharField(max_length=200)
    key = serializers.UUIDField(allow_null=True, default=None)


class PaymentTakeBack(Operation):
    needs = ("invoicing.record_payments",)

    @extend_schema(
        operation_id="payment_take_back",
        request=TakeBackSerializer,
        responses={201: PaymentSerializer, **PROBLEMS},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Undo a payment that was entered by mistake; both rows stay."""
        payment = get_object_or_404(Payment, pk=pk)
        data = self.checked(TakeBackSerializer, request)
        undone = services.take_back_payment(payment=payment, by=self.by, today=self.today, **data)
        return Response(PaymentSerializer(undone).data, status=201)


class CreditLineSerializer(serializers.Serializer):
    line = serializers.PrimaryKeyRelatedField(queryset=InvoiceLine.objects.all())
    quantity = serializers.IntegerField(min_value=1)


class CreditSerializer(serializers.Serializer):
    reason = serializers.CharField(max_length=300)
    lines = CreditLineSerializer(many=True, required=False, help_text="Left out: all that is left of the invoice.")
    bill_again = serializers.BooleanField(default=True)
    key = serializers.UUIDField(allow_null=True, default=None)


class InvoiceCredit(Operation):
    needs = ("invoicing.issue_invoices",)

    @extend_schema(
        operation_id="invoice_credit", request=CreditSerializer, responses={201: InvoiceSerializer, **PROBLEMS}
    )
    def post(self, request: Request, number: str) -> Response:
        """Take back an invoice, all of it or so many of each line, by a credit note."""
        invoice = get_object_or_404(Invoice, number=number)
        data = self.checked(CreditSerializer, request)
        rows = data.pop("lines", None)
        quantities = {row["line"]: row["quantity"] for row in rows} if rows else None
        note = services.credit(invoice=invoice, by=self.by, today=self.today, quantities=quantities, **data)
        return Response(InvoiceSerializer(note).data, status=201)


class InvoiceRemind(Operation):
    needs = ("invoicing.record_payments",)

    @extend_schema(operation_id="invoice_remind", request=None, responses={201: LetterSerializer, **PROBLEMS})
    def post(self, request: Request, number: str) -> Response:
        """Remind the customer of an invoice; once a day at the most."""
        invoice = get_object_or_404(Invoice, number=number)
        letter = services.remind(invoice=invoice, by=self.by, today=self.today)
        if letter is None:
            raise Refused("There is nothing to remind of.")
        return Response(LetterSerializer(letter).data, status=201)
