"""Addresses of lists on their way in and out."""

from django.urls import path

from fleet.exchange.pages import closing, downloads, imports

urlpatterns = [
    path("exchange/", imports.imports, name="imports"),
    path("exchange/<int:pk>/", imports.one_import, name="import"),
    path("exchange/<int:pk>/columns/", imports.columns, name="columns"),
    path("exchange/<int:pk>/rows/", imports.rows, name="rows"),
    path("exchange/<int:pk>/refused/", imports.refused_rows, name="refused"),
    path("exchange/closing/", closing.closing, name="closing"),
    path("exchange/closing/agree/", closing.closing_agree, name="closing-agree"),
    path("exchange/horns/", downloads.horns_out, name="horns-out"),
    path("exchange/pupils/", downloads.pupils_out, name="pupils-out"),
    path("exchange/loans/", downloads.loans_out, name="loans-out"),
    path("exchange/past-loans/", downloads.past_loans_out, name="past-loans-out"),
    path("exchange/charges/", downloads.charges_out, name="charges-out"),
    path("exchange/jobs/", downloads.jobs_out, name="jobs-out"),
    path("exchange/orders/", downloads.orders_out, name="orders-out"),
    path("exchange/parts/", downloads.parts_out, name="parts-out"),
]
