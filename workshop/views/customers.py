from __future__ import annotations

from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from workshop import services
from workshop.forms import CustomerForm
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, office, typed_query
from workshop.models import Customer
from workshop.saving import StaleError


@require_safe
@office
def customers(request: StaffRequest) -> HttpResponse:
    query = typed_query(request)
    found = Customer.objects.prefetch_related("vehicles")
    if query:
        found = found.filter(name__icontains=query)
    context = {"customers": found, "q": query}
    return render(request, "workshop/customers.html", context)


@require_safe
@office
def customer(request: StaffRequest, customer_id: int) -> HttpResponse:
    found = get_object_or_404(Customer, pk=customer_id)
    return render(request, "workshop/customer.html", {"customer": found})


@require_http_methods(["GET", "HEAD", "POST"])
@office
def customer_new(request: StaffRequest) -> HttpResponse:
    form = CustomerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        form.cleaned_data.pop("version", None)
        return redirect(services.add_customer(**form.cleaned_data))
    status = 422 if request.method == "POST" else 200
    return render(request, "workshop/customer_edit.html", {"form": form}, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def customer_edit(request: StaffRequest, customer_id: int) -> HttpResponse:
    found = get_object_or_404(Customer, pk=customer_id)
    shown = get_object_or_404(Customer, pk=customer_id)
    form = CustomerForm(request.POST or None, instance=shown)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                return redirect(
                    services.update_customer(customer=found, **form.cleaned_data)
                )
            except ValidationError as error:
                status = 409 if isinstance(error, StaleError) else 422
                put_errors(form, error)
    context = {"form": form, "customer": found}
    return render(request, "workshop/customer_edit.html", context, status=status)
