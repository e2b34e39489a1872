"""Money by API: what is to bill and owed, how one order stands, how numbers look, a paper tried again."""

from __future__ import annotations

from django.http import Http404
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders import jobs
from orders.api.base import PROBLEMS, Operation
from orders.api.papers import JobSerializer
from orders.models import Order
from orders.refusals import Refused

from .. import numbers, papers, queries
from ..models import Invoice, NumberSeries
from .bills import InvoiceSerializer, PaymentSerializer


class AmountField(serializers.DecimalField):
    def __init__(self, **kwargs: object) -> None:
        super().__init__(max_digits=14, decimal_places=2, **kwargs)  # type: ignore[arg-type]


class ToBillItemSerializer(serializers.Serializer):
    line = serializers.IntegerField(source="line.pk")
    text = serializers.CharField()
    quantity = serializers.IntegerField()
    unit = serializers.CharField()
    unit_price = serializers.DecimalField(max_digits=10, decimal_places=4)
    tax_rate = serializers.DecimalField(max_digits=5, decimal_places=2)
    amount = AmountField()


class ToBillSerializer(serializers.Serializer):
    order = serializers.CharField(source="order.code")
    customer = serializers.CharField(source="order.who")
    items = ToBillItemSerializer(many=True)
    gross = AmountField()
    since = serializers.DateField(allow_null=True, help_text="The first hand-over that is not billed.")
    unpriced = serializers.BooleanField(help_text="A line has no price yet.")


class OwedSerializer(InvoiceSerializer):
    paid = AmountField(help_text="Since it was issued, less what was given back.")
    credited = AmountField()
    balance = AmountField(help_text="Still owed; below zero, paid too much.")

    class Meta(InvoiceSerializer.Meta):
        fields = [*InvoiceSerializer.Meta.fields, "paid", "credited", "balance"]


class DepositSerializer(serializers.Serializer):
    order = serializers.CharField(source="order.code")
    customer = serializers.CharField(source="order.who")
    amount = AmountField()


class MoneyPageSerializer(serializers.Serializer):
    to_bill = ToBillSerializer(many=True)
    owed = OwedSerializer(many=True, help_text="The one due first on top.")
    paid_too_much = OwedSerializer(many=True)
    deposits_to_come = DepositSerializer(many=True)
    deposits_left_over = DepositSerializer(many=True)


class Money(Operation):
    needs = ("invoicing.see_money",)

    @extend_schema(operation_id="money", responses={200: MoneyPageSerializer, **PROBLEMS})
    def get(self, request: Request) -> Response:
        """What is to bill, what is owed, and what is to come or to give back."""
        shown = {
            "to_bill": queries.to_bill(),
            "owed": queries.owed().prefetch_related("lines", "payments"),
            "paid_too_much": queries.paid_too_much().prefetch_related("lines", "payments"),
            "deposits_to_come": queries.deposits_to_come(),
            "deposits_left_over": queries.deposits_left_over(),
        }
        return Response(MoneyPageSerializer(shown).data)


class OrderMoneySerializer(serializers.Serializer):
    """How the money of one order stands. Amounts include tax."""

    currency = serializers.CharField()
    state = serializers.CharField()
    to_bill = ToBillItemSerializer(many=True)
    to_bill_gross = AmountField()
    papers = OwedSerializer(many=True)
    payments = PaymentSerializer(many=True)
    value = AmountField(help_text="What the order comes to.")
    deposit_asked = AmountField(help_text="Or to be asked, where deposit_to_ask says so.")
    deposit_to_ask = serializers.BooleanField(help_text="The confirmation, which asks for it, is still to come.")
    deposit_received = AmountField()
    deposit_in_hand = AmountField(help_text="Received and not yet set against an invoice.")
    owed = AmountField()
    to_give_back = AmountField()
    may_take_deposit = serializers.BooleanField()


class OrderMoney(Operation):
    needs = ("invoicing.see_money",)

    @extend_schema(operation_id="order_money", responses={200: OrderMoneySerializer, **PROBLEMS})
    def get(self, request: Request, code: str) -> Response:
        """How the money of one order stands; our own crop has none."""
        order = get_object_or_404(Order.objects.select_related("customer"), code=code)
        if order.own_crop:
            raise Http404
        return Response(OrderMoneySerializer(queries.order_money(order)).data)


class SeriesSerializer(serializers.ModelSerializer):
    next = serializers.CharField(source="__str__", read_only=True)
    begun = serializers.BooleanField(read_only=True, help_text="A number was given; the prefix stays.")

    class Meta:
        model = NumberSeries
        fields = ["kind", "year", "prefix", "first_number", "next", "begun"]
        read_only_fields = ["year"]
        extra_kwargs = {"prefix": {"required": True}}
        validators: list[object] = []  # the service says what is wrong with a series


class NumberSeriesOfYear(Operation):
    needs = ("orders.edit_nursery", "invoicing.issue_invoices")

    @extend_schema(operation_id="number_series", responses={200: SeriesSerializer(many=True), **PROBLEMS})
    def get(self, request: Request) -> Response:
        """How this year's numbers of invoices and credit notes look, and which comes next."""
        found = [numbers.coming(kind, year=self.today.year) for kind in Invoice.Kind]
        return Response(SeriesSerializer(found, many=True).data)

    @extend_schema(
        operation_id="choose_number_series",
        request=SeriesSerializer,
        responses={200: SeriesSerializer, **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Choose what this year's numbers of one kind look like, before the first is given."""
        data = {"first_number": 1, **self.checked(SeriesSerializer, request)}
        return Response(SeriesSerializer(numbers.set_up(year=self.today.year, by=self.by, **data)).data)


class InvoicePaperAgain(Operation):
    needs = ("invoicing.issue_invoices",)

    @extend_schema(operation_id="invoice_paper_again", request=None, responses={200: JobSerializer, **PROBLEMS})
    def post(self, request: Request, number: str) -> Response:
        """Try again to make a paper that could not be made."""
        job = papers.job_of(get_object_or_404(Invoice, number=number))
        if job is None:
            raise Refused("Nothing is left to make of this paper.")
        jobs.retry(job)
        job.refresh_from_db()
        return Response(JobSerializer(job).data)
