"""Addresses of lists on their way in and out."""

from django.urls import path

from fleet.exchange.pages import closing, downloads, imports

app_name = "exchange"
urlpatterns = [
    path("", imports.imports, name="imports"),
    path("<int:pk>/", imports.one_import, name="import"),
    path("<int:pk>/columns/", imports.columns, name="columns"),
    path("<int:pk>/rows/", imports.rows, name="rows"),
    path("<int:pk>/refused/", imports.refused_rows, name="refused"),
    path("closing/", closing.closing, name="closing"),
    path("closing/agree/", closing.closing_agree, name="closing-agree"),
    path("horns/", downloads.horns_out, name="horns-out"),
    path("pupils/", downloads.pupils_out, name="pupils-out"),
    path("loans/", downloads.loans_out, name="loans-out"),
    path("past-loans/", downloads.past_loans_out, name="past-loans-out"),
    path("charges/", downloads.charges_out, name="charges-out"),
    path("jobs/", downloads.jobs_out, name="jobs-out"),
    path("orders/", downloads.orders_out, name="orders-out"),
    path("parts/", downloads.parts_out, name="parts-out"),
]
